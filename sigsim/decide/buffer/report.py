"""Where to place a buffer: every gap, every pair, every triple, exactly.

A buffer is always on, so it cuts the chain in two whose losses add up, whatever is on: the worst
over all states is the worst before it plus the worst after it. With G gaps it is therefore enough
to know the worst loss from each gap to each later one, G walks in all, and every placement of one,
two or three buffers is a sum of two, three or four of them.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations_with_replacement, pairwise, zip_longest
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim import metrics
from sigsim.board.edit import free_name, inserted
from sigsim.board.wiring import points, wired
from sigsim.decide.buffer.gaps import Gap, gaps, gaps_in_loops
from sigsim.decide.limits import refuse_beyond
from sigsim.errors import SigsimError
from sigsim.items.cable import Cable
from sigsim.items.ends import OutputOf
from sigsim.items.tap import Tap
from sigsim.states.ranked import Ranking, treble
from sigsim.states.response import Response, Solver, grid
from sigsim.states.segments import Listener

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.items.base import Item
    from sigsim.items.stage import ActiveStage

MOST_BUFFERS: Final = 3
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
    best_by_count : the best loss with so many buffers: one, as many as asked for, one more [dB]
    own_cost : what treble the buffer alone takes, at the best place without other wiring [dB]
    own_level : what level at 100 Hz it gives [dB]
    proven : whether the losses with buffers are those of the worst of all states that sound
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
    proven: bool

    @property
    def needed(self) -> bool:
        """Whether a buffer is worth its place, for the wiring or for the load behind it."""
        return self.now >= metrics.WORTH_DB or self.only_spares_load

    @property
    def only_spares_load(self) -> bool:
        """Whether a buffer is worth it for the load behind it alone: the wiring needs none."""
        gain = -self.own_cost - max(self.own_level, 0.0)
        return self.now < metrics.WORTH_DB <= gain


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
        on = board.scene(name).on
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
    refuse_beyond(board, "buffer")
    part = replace(part, stage=free_name(board, part.stage))
    every = gaps(board)
    now = loss_over(board, views)
    if not math.isfinite(now):
        raise SigsimError(
            "nothing comes out of this board, so that a buffer cannot help",
            where=board.file,
            accepted="every volume knob above 0",
        )
    allowed = [gap for gap in every if ignore_pickup or gap.forbidden_by is None]
    within = gaps_in_loops(board)
    refused = tuple(gap for gap in every if gap not in allowed)
    refused += tuple(gap for gap in within if gap.forbidden_by and not ignore_pickup)
    tables = [_Losses(board, part, allowed, view) for view in views]
    best_by_count = {
        n: min(placement.loss for placement in _placements(tables, allowed, n))
        for n in {1, count, min(count + 1, MOST_BUFFERS)}
    }
    placements = _sorted(_placements(tables, allowed, count))
    return BufferReport(
        board,
        part,
        tuple(views),
        now,
        # Two boxes in a row are of interest only where nothing else is better.
        (*placements[:1], *(p for p in placements[1:] if len(set(p.gaps)) == count)),
        _inside(board, part, [gap for gap in within if gap not in refused], views),
        refused,
        best_by_count,
        *_own_cost(board, placements[0], part),
        _proven(board, views),
    )


def _proven(board: Board, views: Sequence[View]) -> bool:
    """Return whether the worst before a buffer and the worst behind it are the worst together.

    Not where a state may be silent as a whole, each part of which lets something through.
    """
    searches = [Ranking(board, treble(metrics.USUAL_BASIS), fixed=view.fixed) for view in views]
    for search in searches:
        search.run()
    return all(search.exact and not search.some_silent for search in searches)


def _inside(
    board: Board, part: ActiveStage, within: Sequence[Gap], views: Sequence[View]
) -> tuple[Placement, ...]:
    """Return the loss of each place inside a loop, the least first.

    A buffer there is gone when its loop is out and does not cut the chain in two in every state:
    each place is a board of its own, and its worst state is searched for.
    """
    return _sorted(
        Placement((gap,), loss_over(inserted(board, gap.place, part), views)) for gap in within
    )


def _sorted(placements: Iterable[Placement]) -> tuple[Placement, ...]:
    return tuple(sorted(placements, key=lambda placement: placement.loss))


def with_buffers(report: BufferReport, placement: Placement) -> Board:
    """Return the board with buffers in the gaps of a placement."""
    board = report.board
    for offset, gap in enumerate(sorted(placement.gaps, key=lambda g: g.index)):
        box = replace(report.part, stage=free_name(board, report.part.stage))
        board = inserted(board, (gap.index + offset,), box)
    return board


class _Losses:
    """The worst treble loss from the instrument and from each gap to each later gap and the end."""

    def __init__(self, board: Board, part: ActiveStage, allowed: Sequence[Gap], view: View) -> None:
        self.board, self.part, self.view = board, part, view
        self.end = len(board.listed) + 1
        self.to = {start: self._from(start, allowed) for start in (-1, *(g.index for g in allowed))}

    def _from(self, start: int, allowed: Sequence[Gap]) -> dict[int, float]:
        """Return the loss [dB] from one gap (-1: the instrument) to later gaps and the end."""
        board, boxed = self.board, start >= 0
        items = board.listed[max(start, 0) :]
        if boxed:
            behind = wired(items, board.wiring, bare=True)
            board = replace(
                board, instrument=OutputOf(stage=self.part), listed=behind, keeps_lead=False
            )
        places = list(self._places(items, boxed))
        listeners = {}
        for gap in (gap for gap in allowed if gap.index >= start):
            place, bare = places[gap.index - max(start, 0)]
            before = board.wiring if bare else None
            listeners[place] = Listener(gap.index, before, self.part)
        basis = metrics.USUAL_BASIS
        search = Ranking(board, treble(basis), fixed=self.view.fixed, listeners=listeners)
        at_end = search.run()[0].value
        return {**search.heard, self.end: at_end}

    def _places(self, items: Sequence[Item], boxed: bool) -> Iterator[tuple[int, bool]]:
        """Yield for each gap among listed items where in the wired chain it lies.

        Yields how many things of the chain come before it, and whether the wiring comes before a
        box in it.
        """
        place = 0
        for item, bare in zip_longest(items, points(items, bare=boxed)):
            needs = bare and self.board.wiring is not None
            yield place, needs
            place += 1 + (needs and not isinstance(item, Cable | Tap))

    def total(self, indices: Sequence[int]) -> float:
        """Return the loss [dB] with buffers in some gaps."""
        path = [-1, *indices, self.end]
        return sum(self.to[a][b] for a, b in pairwise(path))


def _placements(
    tables: Sequence[_Losses], allowed: Sequence[Gap], count: int
) -> Iterator[Placement]:
    for chosen in combinations_with_replacement(allowed, count):
        indices = [gap.index for gap in chosen]
        loss = mean([(table.view.weight, table.total(indices)) for table in tables])
        yield Placement(chosen, loss)


def mean(weighted: Sequence[tuple[float, float]]) -> float:
    """Return a weighted mean; what has no weight does not count even if it has no value."""
    counted = [(w, value) for w, value in weighted if w > 0]
    return math.fsum(w * value for w, value in counted) / math.fsum(w for w, _ in counted)


def loss_over(board: Board, views: Sequence[View]) -> float:
    """Return the treble loss [dB] of a board, the mean over views of the worst each leaves open."""
    measure = treble(metrics.USUAL_BASIS)
    searches = ((v.weight, Ranking(board, measure, fixed=v.fixed)) for v in views)
    return mean([(weight, search.run()[0].value) for weight, search in searches])


def _own_cost(board: Board, best: Placement, part: ActiveStage) -> tuple[float, float]:
    """Return what a buffer alone takes of the treble and gives in level, without wiring [dB]."""
    f = metrics.USUAL_BASIS.frequency
    boxed = inserted(board, best.gaps[0].place, part)
    with np.errstate(invalid="ignore"):
        gains = [
            metrics.decibels(Response(Solver(b), (), grid(), "ideal").reference(f))
            for b in (board, boxed)
        ]
        lost = metrics.losses(gains[0], gains[1])
    return float(metrics.over_level(lost)), float(-lost[-1])
