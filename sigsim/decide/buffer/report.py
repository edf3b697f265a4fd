"""Where to place a buffer: every gap, every pair, every triple, exactly.

A buffer is always on, so it cuts the chain in two whose losses add up, whatever is on: the worst
over all states is the worst before it plus the worst after it. With G gaps it is therefore enough
to know the worst loss from each gap to each later one, G walks in all, and every placement of one,
two or three buffers is a sum of two, three or four of them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations_with_replacement, pairwise
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from sigsim import metrics
from sigsim.board.wiring import unwired, wired
from sigsim.decide.buffer.gaps import Gap, free_name, gaps, with_box
from sigsim.decide.buffer.inside import Inside, inside_loops
from sigsim.errors import SigsimError
from sigsim.items.ends import OutputOf
from sigsim.states.ranked import Ranking, treble
from sigsim.states.response import Response, Solver, grid
from sigsim.states.segments import Listener

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.items.stage import ActiveStage
    from sigsim.physics.arrays import FloatArray

MOST_BUFFERS: Final = 3
MOST_GAPS: Final = 300
# A smaller change is not worth a box: half of what is just noticed.
_LITTLE_DB: Final = 0.25


@dataclass(frozen=True)
class View:
    """One way to look at a board: over all states, or in one scene, with a weight.

    Attributes
    ----------
    name : of the scene, empty for all states
    weight : in the mean over views
    fixed : what is held on or off
    """

    name: str
    weight: float
    fixed: Mapping[str, bool]


ALL_STATES: Final = View("", 1.0, {})


@dataclass(frozen=True)
class Placement:
    """Buffers in some gaps.

    Attributes
    ----------
    gaps : where
    loss : the treble loss then [dB], the worst of all states or the mean of the scenes
    """

    gaps: tuple[Gap, ...]
    loss: float


@dataclass(frozen=True)
class BufferReport:
    """What `buffer` answers.

    Attributes
    ----------
    board : the board as it is
    part : the buffer
    views : over what the loss is taken
    now : the loss without a buffer [dB]
    placements : allowed, the best first
    inside : the allowed places of one buffer inside loops, the best first
    refused : gaps in which no isolator may stand
    single : the best loss with one buffer less than asked for, or with one more, by count [dB]
    own_cost : what treble the buffer alone takes, at the best place without other wiring [dB]
    own_level : what level at 100 Hz it gives [dB]
    """

    board: Board
    part: ActiveStage
    views: tuple[View, ...]
    now: float
    placements: tuple[Placement, ...]
    inside: tuple[Placement, ...]
    refused: tuple[Gap, ...]
    best_by_count: dict[int, float]
    own_cost: float
    own_level: float

    @property
    def needed(self) -> bool:
        """Whether a buffer is worth its place, for the wiring or for the load behind it."""
        return self.now >= metrics.WORDS[0][0] or self.only_spares_load

    @property
    def only_spares_load(self) -> bool:
        """Whether a buffer is worth it for the load behind it alone: the wiring needs none."""
        gain = -self.own_cost - max(self.own_level, 0.0)
        return self.now < metrics.WORDS[0][0] <= gain


def clearly_less(loss: float, other: float) -> bool:
    """Whether one loss [dB] lies so far below another that the change is worth a box."""
    return loss < other - _LITTLE_DB


def scene_views(board: Board, weights: Mapping[str, float]) -> tuple[View, ...]:
    """Return a view of each scene.

    Raises
    ------
    SigsimError : the board has no scenes, or no scene has a weight
    """
    if not board.scenes:
        raise SigsimError("this board has no scenes to rank by", where=board.file)
    views = []
    for name in board.scenes:
        on = board.scene(name)
        held = {switch: switch in on for switch in board.switches()}
        views.append(View(name, weights.get(name, 1.0), held))
    if not sum(view.weight for view in views) > 0:
        raise SigsimError("every scene has the weight 0", where="--weight")
    return tuple(views)


def buffer_report(
    board: Board,
    part: ActiveStage,
    count: int = 1,
    views: Sequence[View] = (ALL_STATES,),
    *,
    ignore_pickup: bool = False,
) -> BufferReport:
    """Try a buffer in every gap, or several in every combination of gaps.

    Parameters
    ----------
    board : the board
    part : the buffer, always on
    count : how many, 1 to 3
    views : over what the loss is taken
    ignore_pickup : whether stages that want to see the pickup are passed over

    Returns
    -------
    BufferReport; the last gap, behind everything, is always allowed
    """
    part = replace(part, stage=free_name(board, part.stage))
    every = gaps(board)
    _refuse_too_many("this chain has", every)
    now = loss_over(board, views)
    if not math.isfinite(now):
        raise SigsimError(
            "nothing comes out of this board, so that a buffer cannot help",
            where=board.file,
            accepted="every volume knob above 0",
        )
    allowed = [gap for gap in every if ignore_pickup or gap.forbidden_by is None]
    within = inside_loops(board, part)
    _refuse_too_many("the loops of this chain have", within)
    refused = tuple(gap for gap in every if gap not in allowed)
    refused += tuple(w.gap for w in within if w.gap.forbidden_by and not ignore_pickup)
    tables = [_Losses(board, part, allowed, view) for view in views]
    best_by_count = {
        n: min(_placements(tables, allowed, n), key=lambda p: p.loss).loss
        for n in {1, count, min(count + 1, MOST_BUFFERS)}
    }
    placements = sorted(_placements(tables, allowed, count), key=lambda p: p.loss)
    # Two boxes in a row are of interest only where nothing else is better.
    placements = placements[:1] + [p for p in placements[1:] if len(set(p.gaps)) == count]
    return BufferReport(
        board,
        part,
        tuple(views),
        now,
        tuple(placements),
        _inside([w for w in within if w.gap not in refused], views),
        refused,
        best_by_count,
        *_own_cost(board, placements[0], part),
    )


def _inside(places: Sequence[Inside], views: Sequence[View]) -> tuple[Placement, ...]:
    """Return the loss of each place inside a loop, the least first."""
    found = [Placement((place.gap,), loss_over(place.board, views)) for place in places]
    return tuple(sorted(found, key=lambda placement: placement.loss))


def _refuse_too_many(what: str, places: Sequence[Any]) -> None:
    if len(places) > MOST_GAPS:
        raise SigsimError(
            f"{what} too many gaps to try",
            found=str(len(places)),
            accepted=f"at most {MOST_GAPS}; try a part of the chain in a file of its own",
        )


def with_buffers(report: BufferReport, placement: Placement) -> Board:
    """Return the board with buffers in the gaps of a placement."""
    board = report.board
    for offset, gap in enumerate(sorted(placement.gaps, key=lambda g: g.index)):
        box = replace(report.part, stage=free_name(board, report.part.stage))
        board = with_box(board, gap.index + offset, box)
    return board


class _Losses:
    """The worst treble loss from the instrument and from each gap to each later gap and the end."""

    def __init__(self, board: Board, part: ActiveStage, allowed: Sequence[Gap], view: View) -> None:
        self.weight = view.weight
        self.part, self.view = part, view
        self.items = unwired(board.chain, board.wiring)
        self.wiring = board.wiring
        end = len(self.items) + 1
        self.to: dict[int, dict[int, float]] = {-1: self._from(board, -1, allowed, end)}
        for gap in allowed:
            self.to[gap.index] = self._from(board, gap.index, allowed, end)

    def _from(self, board: Board, start: int, allowed: Sequence[Gap], end: int) -> dict[int, float]:
        """Return the loss [dB] from one gap (-1: the instrument) to later gaps and the end."""
        items = self.items[max(start, 0) :]
        head = [] if start < 0 else [self.part]
        chain = wired([*head, *items], self.wiring, inside=False)[len(head) :]
        instrument: Any = board.instrument if start < 0 else OutputOf(self.part)
        part_board = replace(board, chain=chain, instrument=instrument)
        listeners = {}
        for gap in allowed:
            if gap.index >= start:
                place, bare = self._place(chain, items, gap.index - max(start, 0), bool(head))
                before = self.wiring if bare else None
                listeners[place] = Listener(gap.index, before, self.part)
        search = Ranking(part_board, treble("ideal"), fixed=self.view.fixed, listeners=listeners)
        at_end = search.run()[0].value
        return {**search.heard, end: at_end}

    def _place(
        self, chain: Sequence[Any], items: Sequence[Any], count: int, behind_box: bool
    ) -> tuple[int, bool]:
        """Return where in the wired chain a gap lies, and whether wiring comes before a box in it.

        Right behind the box itself the two boxes are joined by one wiring cable.
        """
        if count == 0:
            return 0, behind_box and self.wiring is not None
        listed = 0
        for index, item in enumerate(chain):
            listed += item is not self.wiring
            if listed == count:
                return index + 1, self._bare(items[:count], behind_box)
        raise AssertionError("a gap lies behind the chain")

    def _bare(self, items: Sequence[Any], behind_box: bool) -> bool:
        marker = [self.part] if behind_box else []
        following = wired([*marker, *items, self.part], self.wiring, inside=False)
        return self.wiring is not None and following[-2] is self.wiring

    def total(self, indices: Sequence[int]) -> float:
        """Return the loss [dB] with buffers in some gaps."""
        path = [-1, *indices, len(self.items) + 1]
        return sum(self.to[a][b] for a, b in pairwise(path))


def _placements(tables: Sequence[_Losses], allowed: Sequence[Gap], count: int) -> list[Placement]:
    placements = []
    for chosen in combinations_with_replacement(allowed, count):
        indices = [gap.index for gap in chosen]
        loss = mean([(table.weight, table.total(indices)) for table in tables])
        placements.append(Placement(chosen, loss))
    return placements


def mean(weighted: Sequence[tuple[float, float]]) -> float:
    """Return a weighted mean; what has no weight does not count even if it has no value."""
    counted = [(w, value) for w, value in weighted if w > 0]
    return math.fsum(w * value for w, value in counted) / math.fsum(w for w, _ in counted)


def loss_over(board: Board, views: Sequence[View]) -> float:
    """Return the treble loss [dB] of a board, the mean over views."""
    return mean([(view.weight, worst_of(board, view)) for view in views])


def worst_of(board: Board, view: View) -> float:
    """Return the treble loss [dB] of a board in a view, the worst of what it leaves open."""
    return Ranking(board, treble("ideal"), fixed=view.fixed).run()[0].value


def _own_cost(board: Board, best: Placement, part: ActiveStage) -> tuple[float, float]:
    """Return what a buffer alone takes of the treble and gives in level, without wiring [dB]."""
    f: FloatArray = np.append(metrics.third_octaves(*metrics.TREBLE_BAND), metrics.LEVEL_HZ)
    boxed = with_box(board, best.gaps[0].index, part)
    with np.errstate(invalid="ignore"):
        gains = [
            metrics.decibels(Response(Solver(b), frozenset(), grid(), "ideal").reference(f))
            for b in (board, boxed)
        ]
        lost = gains[0] - gains[1]
    return float(np.mean(lost[:-1])), float(-lost[-1])
