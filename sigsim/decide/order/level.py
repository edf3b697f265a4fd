"""A level as pieces that can be put together in any order, in one view."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.board.edit import item_at
from sigsim.board.wiring import wired
from sigsim.decide.order.applied import parts
from sigsim.items.loop import Loop
from sigsim.layout.model import Socket
from sigsim.metrics import USUAL_BASIS
from sigsim.states.board_graph import board_graph
from sigsim.states.measure import treble
from sigsim.states.open_ends import Columns, Ends, passed
from sigsim.states.options import Options, UnfitError, behind, options_of, wire
from sigsim.states.quiet import audible, can_be_silent
from sigsim.states.search import ranked
from sigsim.states.sides import Sides

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.decide.buffer.views import View
    from sigsim.decide.order.question import Question
    from sigsim.items.base import Item

# Where the last thing put in its place is a box, and not the buffer.
PLAIN: Final = -1
# More ways to come to a level, or to go on from it, are not put together beforehand.
_MOST_AROUND: Final = 4096
# How long the states are searched that do not depend on the order [s].
_SECONDS: Final = 5.0


class Pieces:
    """What a level is made of, wired.

    Parameters
    ----------
    question : whose level it is
    """

    def __init__(self, question: Question) -> None:
        self.question, self.parts = question, parts(question, marked=True)
        self.inside, self.wiring = bool(question.level), question.board.wiring
        self.count = len(question.boxes)
        around = _around(question)
        self.on_way = around is not None
        self.before, self.behind = around or ([], [])
        # A circuit knows its items by their identity: the same one has to be met each time.
        self.lays = question.board.laying
        self.boxes = [wired(box, self.wiring, lays=self.lays) for box in self.parts.boxes]
        self._between: dict[tuple[int, int, int | None], tuple[Item, ...]] = {}

    def between(self, junction: int, gap: int, last: int | None) -> tuple[Item, ...]:
        """Return what is met between a box, or the buffer, and the next.

        Parameters
        ----------
        junction : how many boxes come before
        gap : behind how many of the things that stay there the buffer comes first, `PLAIN` for
            a box
        last : behind how many of them the buffer comes next, None for a box
        """
        key = junction, gap, last
        if key not in self._between:
            self._between[key] = self._wired(*key)
        return self._between[key]

    def _wired(self, junction: int, gap: int, last: int | None) -> tuple[Item, ...]:
        slot = self.parts.slots[junction][max(gap, 0) : last]
        bare = self.inside or junction > 0 or gap != PLAIN
        next_one = self.parts.boxes[0][0]
        # Any box stands for the one before: between two of them a cable is as long as any other.
        begin = Socket(next_one.label, "out") if bare else None
        if junction == self.count and last is None and not self.inside:
            return wired(slot, self.wiring, bare=bare, lays=self.lays, begin=begin)
        items = (*slot, next_one)
        return wired(items, self.wiring, bare=bare, lays=self.lays, begin=begin)[:-1]


def _around(question: Question) -> tuple[list[Item], list[Item]] | None:
    """Return what comes before a level and behind it while the loops around it are in.

    None where it is not on the way to the end where one listens.
    """
    items: Sequence[Item] = question.board.chain
    before: list[Item] = []
    after: list[Item] = []
    for name in loops_around(question):
        at = next((i for i, item in enumerate(items) if _is_loop(item, name)), None)
        if at is None:
            return None
        before += items[:at]
        after = [*items[at + 1 :], *after]
        items = items[at].inside  # type: ignore[attr-defined]
    return before, after


def loops_around(question: Question) -> Iterator[str]:
    """Yield the loops that a level is inside of, the outermost first.

    Raises
    ------
    UnfitError : it is inside a split too
    """
    for depth in range(1, len(question.level) + 1):
        item = item_at(question.board, question.level[:depth])
        if not isinstance(item, Loop):
            raise UnfitError
        yield item.loop


def _is_loop(item: Item, name: str) -> bool:
    return isinstance(item, Loop) and item.loop == name


class Line:
    """One view of a level: what can be met, step by step.

    Parameters
    ----------
    pieces : of the level
    view : what is held on or off

    Attributes
    ----------
    constant : the worst loss [dB] of the states that do not depend on the order
    heard : whether any depends on it

    Raises
    ------
    UnfitError : the pieces cannot be put together beforehand
    """

    def __init__(self, pieces: Pieces, view: View) -> None:
        board, loops = pieces.question.board, list(loops_around(pieces.question))
        self.pieces = pieces
        self.constant = _constant(board, loops, view.fixed)
        self.heard = pieces.on_way and all(view.fixed.get(loop, True) for loop in loops)
        if not self.heard:
            return
        self.fixed = {**view.fixed, **dict.fromkeys(loops, True)}
        frequency = USUAL_BASIS.frequency
        self.sides = Sides(board, frequency, frequency, USUAL_BASIS.reference)
        levels = (frequency.size - 1, 2 * frequency.size - 1)
        graph = audible(board_graph(board, frequency, frequency, self.fixed), levels)
        if board.at or graph.silent or can_be_silent(graph, levels):
            raise UnfitError
        self.start = self._start()
        self.boxes = [self._options(box) for box in pieces.boxes]
        self._steps: dict[tuple[int, int, int], Options] = {}
        self._ends: dict[int, Columns] = {}
        self.last = self._behind()

    def _options(self, items: Sequence[Item]) -> Options:
        return options_of(items, self.sides, self.fixed)

    def _start(self) -> Ends:
        start = self.sides.start()
        found = Ends.first(start)
        for item in self.pieces.before:
            found = passed(found, self._options([item]))
            if found.base.size > _MOST_AROUND:
                raise UnfitError
        return found

    def _behind(self) -> Columns:
        found = Columns.last(self.sides.end())
        for item in reversed(self.pieces.behind):
            found = found.before(self._options([item]))
            if found.base.size > _MOST_AROUND:
                raise UnfitError
        return found

    def step(self, junction: int, gap: int, element: int) -> Options:
        """Return what is met from a box, or the buffer, on to the next and through that.

        Parameters
        ----------
        junction : how many boxes come before
        gap : behind how many of the things between the boxes the buffer stands, `PLAIN` without it
        element : the number of a box; the number of boxes and more for the buffer, see `gap`
        """
        key = junction, gap, element
        found = self._steps.get(key)
        if found is None:
            found = self._steps[key] = self._step(*key)
        return found

    def _step(self, junction: int, gap: int, element: int) -> Options:
        count = self.pieces.count
        if element < count:
            return behind(self.joint(junction, gap, None), self.boxes[element])
        buffer = self.pieces.question.buffer
        assert buffer is not None
        joint = self.joint(junction, PLAIN, element - count)
        return behind(joint, self._options([buffer]))

    def joint(self, junction: int, gap: int, last: int | None) -> Options:
        """Return what is met behind a box, or the buffer, up to the next; see `Pieces.between`."""
        items = self.pieces.between(junction, gap, last)
        return self._options(items) if items else wire(self.sides.size)

    def end(self, gap: int) -> Columns:
        """Return what follows the last box, or the buffer behind that."""
        found = self._ends.get(gap)
        if found is None:
            found = self._ends[gap] = self.last.before(self.joint_end(gap))
        return found

    def joint_end(self, gap: int) -> Options:
        """Return what is met behind the last box, or the buffer behind that, in the level."""
        return self.joint(self.pieces.count, gap, None)


def _constant(board: Board, loops: Sequence[str], fixed: Mapping[str, bool]) -> float:
    """Return the worst loss [dB] while any of some loops is out, the outermost first."""
    found = -np.inf
    held = dict(fixed)
    for loop in loops:
        if fixed.get(loop) is not True:
            value = ranked(
                board, treble(USUAL_BASIS), fixed={**held, loop: False}, seconds=_SECONDS
            )
            found = np.fmax(found, value[0].value)
        if fixed.get(loop) is False:
            break
        held[loop] = True
    return float(found)


def lines(question: Question) -> tuple[list[Line], np.ndarray]:
    """Return a line for each view that counts, and the views' weights."""
    views = [view for view in question.views if view.weight > 0 or not question.mean]
    pieces = Pieces(question)
    found = [Line(pieces, view) for view in views]
    weights = np.array([view.weight for view in views])
    return found, weights / weights.sum() if question.mean else weights
