"""Why an order loses less than that of the file: facts found on both boards, without a word."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from sigsim.decide.pickup import has_pickup, hidden_pickups, steady, wanting
from sigsim.items.cable import Cable
from sigsim.items.stage import ActiveStage
from sigsim.items.tap import Tap
from sigsim.physics.arrays import scalar
from sigsim.states.path import path, segments

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.decide.order.question import Order, Ordered, Question
    from sigsim.items.base import Item
    from sigsim.states.path import Segment

# A stretch of cable is told as shorter if it is by so much [m], and by that part.
_SHORTER_M: Final = 0.1
_SHORTER_PART: Final = 0.05


@dataclass(frozen=True)
class Moved:
    """A box at another place among the others.

    Attributes
    ----------
    box : its name
    behind : the box before it then, empty for none
    """

    box: str
    behind: str


@dataclass(frozen=True)
class Shield:
    """A box that isolates whatever is on, and what it newly keeps from the source.

    Attributes
    ----------
    box : its name
    kept : what stands behind it now and stood behind no such box before
    all_behind : whether it was not the first such box before, or nothing behind it was shielded
    """

    box: str
    kept: tuple[str, ...]
    all_behind: bool


@dataclass(frozen=True)
class Stretch:
    """The longest stretch of cable that nothing shields, each order in its own worst state.

    Attributes
    ----------
    now, then : its pieces in the order of the file, and in the other [m]
    """

    now: tuple[float, ...]
    then: tuple[float, ...]


@dataclass(frozen=True)
class Reason:
    """What differs between the order of the file and another.

    Attributes
    ----------
    moved : the fewest boxes that have to move, in the new order
    shield : what shields more boxes than before, None for nothing
    stretch : None where it is not shorter
    sees_still, sees_now : what sees the pickup, as before or not before
    """

    moved: tuple[Moved, ...]
    shield: Shield | None
    stretch: Stretch | None
    sees_still: tuple[str, ...]
    sees_now: tuple[str, ...]


def reason(question: Question, now: Ordered, then: Ordered, board: Board) -> Reason:
    """Return why an order does what it does.

    Parameters
    ----------
    question : what was asked
    now : the order of the file
    then : the other order
    board : the board with the other order
    """
    still, new = _seeing(question.board, board)
    return Reason(
        _moved(question, then.order),
        _shield(question, then.order),
        _stretch(question.board, now.worst, board, then.worst) if then.loss < now.loss else None,
        still,
        new,
    )


def box_names(question: Question, order: Order) -> tuple[str, ...]:
    """Return the names of the boxes in an order; the buffer's is that of the stage."""
    return tuple(_item(question, number).label for number in order)


def _item(question: Question, number: int) -> Item:
    if number < len(question.boxes):
        return question.boxes[number].item
    assert question.buffer is not None, "a number behind the last box is that of the buffer"
    return question.buffer


def _moved(question: Question, order: Order) -> tuple[Moved, ...]:
    """Return the fewest boxes that turn the file's order into another one; no buffer."""
    own = [number for number in order if number < len(question.boxes)]
    stay = set(_longest_rising(own))
    names = box_names(question, order)
    return tuple(
        Moved(names[i], names[i - 1] if i else "")
        for i, number in enumerate(order)
        if number < len(question.boxes) and number not in stay
    )


def _longest_rising(numbers: Sequence[int]) -> list[int]:
    """Return a longest rising part of a sequence of different numbers."""
    ends: list[int] = []
    before: dict[int, int | None] = {}
    for number in numbers:
        at = bisect_left(ends, number)
        before[number] = ends[at - 1] if at else None
        ends[at : at + 1] = [number]
    found: list[int] = []
    last = ends[-1] if ends else None
    while last is not None:
        found.append(last)
        last = before[last]
    return found


def _shield(question: Question, order: Order) -> Shield | None:
    """Return the first box that always isolates, if something newly stands behind it."""
    now = tuple(range(len(question.boxes)))
    first = next((n for n in order if _always_isolates(_item(question, n))), None)
    if first is None:
        return None
    was = next((n for n in now if _always_isolates(_item(question, n))), None)
    shielded = set(now[now.index(was) + 1 :]) if was is not None else set()
    behind = order[order.index(first) + 1 :]
    kept = [n for n in behind if n not in shielded and n != was]
    if was not in (None, first):
        kept += [n for n in behind if n == was]
    if not kept:
        return None
    whole = first != was or len(kept) == len(behind)
    return Shield(_item(question, first).label, box_names(question, tuple(kept)), whole)


def _always_isolates(item: Item) -> bool:
    return isinstance(item, ActiveStage) and steady(item)


def _stretch(
    now: Board, on_now: tuple[str, ...], then: Board, on_then: tuple[str, ...]
) -> Stretch | None:
    """Return the longest stretches if the second is shorter by enough to be told."""
    found = Stretch(_longest(now, on_now), _longest(then, on_then))
    was = math.fsum(found.now)
    gained = was - math.fsum(found.then)
    return found if gained >= max(_SHORTER_M, _SHORTER_PART * was) else None


def _longest(board: Board, on: Sequence[str]) -> tuple[float, ...]:
    """Return the pieces of cable [m] in the longest passive run of a state, taps included."""
    found = segments(path(board.chain, frozenset(on)))
    return max(map(_pieces, found), key=math.fsum, default=())


def _pieces(run: Segment) -> tuple[float, ...]:
    pieces = (met.item.cable if isinstance(met.item, Tap) else met.item for met in run.run)
    return tuple(scalar(piece.length) for piece in pieces if isinstance(piece, Cable))


def _seeing(now: Board, then: Board) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return what still sees the pickup it wants to see, and what newly does."""
    hidden_now = {hidden.stage for hidden in hidden_pickups(now)}
    hidden_then = {hidden.stage for hidden in hidden_pickups(then)}
    wants = wanting(now) if has_pickup(now) else ()
    sees = [stage for stage in wants if stage not in hidden_then]
    return (
        tuple(stage for stage in sees if stage not in hidden_now),
        tuple(stage for stage in sees if stage in hidden_now),
    )
