"""Where to place a buffer: every gap, every pair, every triple, exactly.

A buffer is always on, so it cuts the chain in two whose losses add up, whatever is on: the worst
over all states is the worst before it plus the worst after it. With G gaps it is therefore enough
to know the worst loss from each gap to each later one, G walks in all, and every placement of one,
two or three buffers is a sum of two, three or four of them. The level in one state is such a sum
as well.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim import metrics
from sigsim.board.edit import free_name, inserted
from sigsim.decide.buffer.bound import LeastLoss
from sigsim.decide.buffer.gaps import Gap, gaps, gaps_elsewhere, is_place
from sigsim.decide.buffer.level import LevelBeside, largest
from sigsim.decide.buffer.sums import Sums, combined, least_loss
from sigsim.decide.buffer.views import ALL_STATES, View, loss_over
from sigsim.decide.limits import refuse_beyond
from sigsim.errors import SigsimError
from sigsim.states.circuit import Circuit
from sigsim.states.measure import Measure, treble
from sigsim.states.path import in_reference, path, segments
from sigsim.states.search import Search

if TYPE_CHECKING:
    from sigsim.board.edit import Place
    from sigsim.board.model import Board
    from sigsim.items.stage import ActiveStage
    from sigsim.physics.arrays import FloatArray

MOST_BUFFERS: Final = 3
# Where less is gained, the place makes no difference: it is not seen in a number as printed.
LEAST_GAIN_DB: Final = 0.1


@dataclass(frozen=True)
class Placement:
    """Buffers in some gaps.

    Attributes
    ----------
    gaps : where
    loss : the treble loss then [dB], the worst of all states or the mean of the scenes
    level_change : what it does to the level at 100 Hz in the state that is worst without it [dB]
    """

    gaps: tuple[Gap, ...]
    loss: float
    level_change: float


@dataclass(frozen=True)
class BufferReport:
    """What `buffer` answers.

    Attributes
    ----------
    board : the board as it is
    part : the buffer
    views : over what the loss is taken
    now : the loss without a buffer [dB]
    placements : allowed, the best first; empty where a buffer has no place
    inside : the allowed places of one buffer inside loops and on other ways, the best first; of
        those that gain nothing only some, unless every one was asked for
    elsewhere : all the gaps of these
    refused : gaps in which no isolator may stand
    count : how many buffers were asked for
    best_by_count : the best loss with so many buffers: one, as many as asked for, one more [dB];
        without those for which there is no room
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
    elsewhere: tuple[Gap, ...]
    refused: tuple[Gap, ...]
    count: int
    best_by_count: dict[int, float]
    own_cost: float
    own_level: float
    proven: bool

    @property
    def needed(self) -> bool:
        """Whether a buffer is worth its place, for the wiring or for the load behind it."""
        return metrics.worth_doing(self.now) or self.only_spares_load

    @property
    def only_spares_load(self) -> bool:
        """Whether a buffer is worth it for the load behind it alone: the wiring needs none."""
        return not metrics.worth_doing(self.now) and metrics.worth_doing(-self.own_cost)

    @property
    def loading(self) -> str:
        """What the instrument drives with all off: the first input that isolates, or the end."""
        end = next(segments(path(self.board.chain, ()))).end
        return self.board.end.name if end is None else end.item.label

    def gains(self, placement: Placement) -> bool:
        """Whether a placement gains enough treble to be proposed."""
        return placement.loss <= self.now - LEAST_GAIN_DB

    @property
    def proposed(self) -> tuple[Placement, ...]:
        """The placements that gain enough, the best first."""
        return tuple(placement for placement in self.placements if self.gains(placement))

    @property
    def proposed_inside(self) -> tuple[Placement, ...]:
        """The places inside loops and on other ways that gain enough, the best first."""
        return tuple(placement for placement in self.inside if self.gains(placement))

    @property
    def advised(self) -> Placement | None:
        """The placement that is advised, None where the buffer is better left out."""
        if self.only_spares_load:
            return self.placements[0] if self.placements else None
        proposed = self.proposed
        return proposed[0] if proposed and self.needed else None


def buffer_report(
    board: Board,
    part: ActiveStage,
    count: int = 1,
    views: Sequence[View] = (ALL_STATES,),
    *,
    ignore_pickup: bool = False,
    every: bool = True,
) -> BufferReport:
    """Try a buffer in every gap, or several in every combination of gaps.

    Parameters
    ----------
    board : the board
    part : the buffer, always on
    count : how many, 1 to 3
    views : over what the loss is taken
    ignore_pickup : whether stages that want to see the pickup are passed over
    every : whether places inside loops and on other ways are searched that gain nothing for sure

    Returns
    -------
    BufferReport
    """
    refuse_beyond(board, "buffer")
    part = replace(part, stage=free_name(board, part.stage))
    on_way = gaps(board)
    beside = LevelBeside(board, views)
    now = beside.loss
    if not math.isfinite(now):
        raise SigsimError(
            "nothing comes out of this board, so that a buffer cannot help",
            where=board.file,
            accepted="every volume knob above 0, and no pickups that cancel one another",
        )
    within = gaps_elsewhere(board)
    refused = tuple(gap for gap in (*on_way, *within) if gap.forbidden_by and not ignore_pickup)
    allowed = [gap for gap in on_way if gap not in refused and is_place(board, gap)]
    spare = [gap for gap in within if gap not in refused and is_place(board, gap)]
    tables = [Sums(board, part, allowed, view, treble(metrics.USUAL_BASIS)) for view in views]
    levels = [
        Sums(board, part, allowed, view, Measure(np.array([metrics.LEVEL_HZ]), None))
        for view in _held(board, beside)
    ]
    placements = [
        Placement(
            chosen,
            loss,
            largest([t.total(chosen) - was for t, was in zip(levels, beside.now, strict=True)]),
        )
        for chosen, loss in combined(tables, allowed, count)
    ]
    placements.sort(key=lambda placement: placement.loss)
    best_by_count = {
        n: loss
        for n in sorted({1, count, min(count + 1, MOST_BUFFERS)})
        if (loss := least_loss(tables, allowed, n)) is not None
    }
    first = placements[0].gaps[0].place if placements else on_way[-1].place
    return BufferReport(
        board,
        part,
        tuple(views),
        now,
        tuple(placements),
        _inside(board, part, spare, views, beside, every=every),
        tuple(spare),
        refused,
        count,
        best_by_count,
        *_own_cost(board, first, part),
        _proven(board, views),
    )


def _proven(board: Board, views: Sequence[View]) -> bool:
    """Return whether the worst before a buffer and the worst behind it are the worst together.

    Not where a state may be silent as a whole, each part of which lets something through.
    """
    measures = [treble(metrics.USUAL_BASIS)]
    return not any(Search(board, measures, view.fixed).some_silent for view in views)


def _held(board: Board, beside: LevelBeside) -> list[View]:
    """Return views of one state each: those in which the board loses most."""
    return [View("", 1.0, {s: s in on for s in board.switches()}) for on in beside.states]


def _inside(
    board: Board,
    part: ActiveStage,
    within: Sequence[Gap],
    views: Sequence[View],
    beside: LevelBeside,
    *,
    every: bool,
) -> tuple[Placement, ...]:
    """Return the loss of each place inside a loop or on another way, the least first.

    A buffer there does not cut the way in two in every state: in a loop it is gone when that is
    out, and on another way it takes a load off. Each place is a board of its own, and its worst
    state is searched for.
    """
    least = LeastLoss(board, views, beside.states)
    boards = [(gap, inserted(board, gap.place, part)) for gap in within]
    if not every:
        boards = [(g, b) for g, b in boards if least.of(b) <= beside.loss - LEAST_GAIN_DB]
    placed = (Placement((gap,), loss_over(b, views), beside.change(b)) for gap, b in boards)
    return tuple(sorted(placed, key=lambda placement: placement.loss))


def with_buffers(report: BufferReport, placement: Placement) -> Board:
    """Return the board with buffers in the gaps of a placement."""
    board = report.board
    for place in places_of(placement):
        box = replace(report.part, stage=free_name(board, report.part.stage))
        board = inserted(board, place, box)
    return board


def places_of(placement: Placement) -> list[Place]:
    """Return where buffers are put in one after another, each counted with those before it."""
    ordered = sorted(gap.place for gap in placement.gaps)
    return [_moved_on(place, ordered[:number]) for number, place in enumerate(ordered)]


def _moved_on(place: Place, earlier: Sequence[Place]) -> Place:
    """Return where a place is when boxes have been put into earlier ones."""
    moved = list(place)
    for other in earlier:
        depth = len(other) - 1
        if depth < len(place) and other[:depth] == place[:depth] and other[depth] <= place[depth]:
            moved[depth] += 1
    return tuple(moved)


def _own_cost(board: Board, place: Place, part: ActiveStage) -> tuple[float, float]:
    """Return what a buffer alone takes of the treble and gives in level, without wiring [dB]."""
    boxed = inserted(board, place, part)
    with np.errstate(invalid="ignore"):
        gains = [_without_wiring(b) for b in (board, boxed)]
        lost = metrics.losses(gains[0], gains[1])
    return float(metrics.over_level(lost)), float(-lost[-1])


def _without_wiring(board: Board) -> FloatArray:
    """Return the gain [dB] with all off, of the lead and of what isolates even then."""
    circuit = Circuit(board, metrics.USUAL_BASIS.frequency)
    met = path(board.chain, ())
    return circuit.level(one for one in met if one.isolates or in_reference(*one, "ideal"))
