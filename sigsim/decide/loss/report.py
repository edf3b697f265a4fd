"""The main question: what this chain loses, state by state and at worst."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim import metrics
from sigsim.decide.folding import COMPARED_HZ, SAME_DB, Fold, folded
from sigsim.decide.limits import refuse_beyond
from sigsim.metrics import USUAL_BASIS, Basis
from sigsim.states.hand_check import HandCheck, hand_check
from sigsim.states.response import Response, Solver, grid
from sigsim.states.search import USUAL_SECONDS, worst_state
from sigsim.states.together import gains_of

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import On, State
    from sigsim.physics.arrays import FloatArray

_REGIONS: Final = (500.0, 12_500.0)


@dataclass(frozen=True)
class Region:
    """Where a state differs most from its reference, in one direction.

    Attributes
    ----------
    frequency : [Hz]
    loss : there [dB]
    """

    frequency: float
    loss: float


@dataclass(frozen=True)
class StateReport:
    """All numbers of one state.

    Attributes
    ----------
    state : which things are on, and what that is called
    level : at 100 Hz [dB]; level_change : against the reference [dB]
    treble_loss : [dB]; treble_loss_with_lead : the same if the lead counted too [dB]
    losses : by frequency [Hz] in [dB]; not a number where nothing comes
    corner : [Hz] or None; resonance : or None
    reference_corner, reference_resonance : the same of the reference
    verdict : the word for the treble loss
    gain_region : where it adds most, if by more than is noticed and it also takes; else None
    loss_region : where it takes most, likewise
    hand_check : by segment
    hidden : the names that are on inside a loop that is out, and so do nothing
    """

    state: State
    level: float
    level_change: float
    treble_loss: float
    treble_loss_with_lead: float
    losses: dict[float, float]
    corner: float | None
    resonance: metrics.Resonance | None
    reference_corner: float | None
    reference_resonance: metrics.Resonance | None
    verdict: str
    gain_region: Region | None
    loss_region: Region | None
    hand_check: tuple[HandCheck, ...]
    hidden: tuple[str, ...] = ()

    @property
    def silent(self) -> bool:
        """Whether nothing comes out, so that no loss can be told."""
        return math.isnan(self.treble_loss)


@dataclass(frozen=True)
class LossReport:
    """What `loss` answers.

    Attributes
    ----------
    board : the board
    basis : what a loss is measured against and over
    states : the states asked for
    worst : the worst of all states
    proven : whether the worst state is the result of a complete search
    bound : what no state loses more than, if it is not [dB]
    merged : the states with those that are the same as one
    worst_among : which of `merged` the worst is the same as, None for none of them
    """

    board: Board
    basis: Basis
    states: tuple[StateReport, ...]
    worst: StateReport
    proven: bool
    bound: float
    merged: tuple[Fold[StateReport], ...]
    worst_among: int | None

    @property
    def heaviest(self) -> StateReport:
        """The state asked for that loses most; the first if all are silent."""
        sounding = [state for state in self.states if not state.silent]
        return max(sounding, key=lambda state: state.treble_loss, default=self.states[0])


def loss_report(
    board: Board,
    states: Sequence[State],
    basis: Basis = USUAL_BASIS,
    seconds: float = USUAL_SECONDS,
) -> LossReport:
    """Measure some states and the worst of all.

    Parameters
    ----------
    board : the board
    states : of the board
    basis : what a loss is measured against and over
    seconds : how long to search for the worst

    Raises
    ------
    SigsimError : the board is too large
    """
    refuse_beyond(board, "loss")
    solver = Solver(board)
    extreme = worst_state(board, basis, seconds)
    reports = tuple(assess(solver, state, basis) for state in states)
    at_worst = assess(solver, board.state(extreme.on), basis)
    merged, worst_among = _merged(board, reports, at_worst, basis)
    exact, bound = extreme.exact, extreme.bound
    return LossReport(board, basis, reports, at_worst, exact, bound, merged, worst_among)


def _merged(
    board: Board, states: Sequence[StateReport], worst: StateReport, basis: Basis
) -> tuple[tuple[Fold[StateReport], ...], int | None]:
    """Return the states with those of the same response as one, and where the worst is in them."""
    every = (*states, worst)
    figures = same_responses(board, [report.state.on for report in every], basis)
    by_report = {id(report): row for report, row in zip(every, figures.tolist(), strict=True)}
    folds = folded(every, lambda report: by_report[id(report)], within=SAME_DB)
    found = []
    for fold in folds:
        rows = tuple(row for row in fold.rows if row is not worst)
        found.append((rows, len(rows) < len(fold.rows)))
    merged = [(Fold(1, rows[0], rows[1:]), at_worst) for rows, at_worst in found if rows]
    among = next((i for i, (_, at_worst) in enumerate(merged) if at_worst), None)
    return tuple(fold for fold, _ in merged), among


def same_responses(board: Board, states: Sequence[On], basis: Basis) -> FloatArray:
    """Return what states have alike if nobody can tell them apart.

    Parameters
    ----------
    board : the board
    states : the names of what is on in each
    basis : what a loss is measured against and over

    Returns
    -------
    a row for each: gain and loss at `COMPARED_HZ` and where the treble loss is taken, and the
    treble loss [dB]
    """
    frequency = np.append(COMPARED_HZ, basis.frequency)
    gain, ideal = gains_of(board, states, frequency, basis.reference)
    losses = metrics.losses(ideal, gain)
    treble = metrics.over_level(losses[:, COMPARED_HZ.size :])
    heard = np.where(metrics.sounds(gain), gain, -np.inf)
    return np.concatenate((heard, losses, treble[:, None]), axis=1)


def assess(solver: Solver, state: State, basis: Basis = USUAL_BASIS) -> StateReport:
    """Measure one state.

    Parameters
    ----------
    solver : of the board
    state : of the board
    basis : what a loss is measured against and over
    """
    return assess_variants(solver, (solver.board,), state, basis)[0]


def assess_variants(
    solver: Solver, boards: Sequence[Board], state: State, basis: Basis
) -> list[StateReport]:
    """Measure one state of boards that differ in values only.

    Parameters
    ----------
    solver : of the board of which these values are arrays, shape (boards, 1)
    boards : each of them alone
    state : of all of them
    basis : what a loss is measured against and over
    """
    on, rows = state.on, len(boards)
    r = Response(solver, on, grid(), basis.reference)
    bare = r if basis.reference == "bare" else Response(solver, on, grid(), "bare")
    treble, with_lead = (_treble_losses(one, basis) for one in (r, bare))
    single = (
        metrics.levels(r),
        metrics.loss(r, np.array([metrics.LEVEL_HZ]))[..., 0],
        treble,
        with_lead,
        metrics.corners(r),
        *metrics.resonances(r),
        metrics.corners(r.reference),
        *metrics.resonances(r.reference),
    )
    f = metrics.third_octaves(*_REGIONS)
    curves = (metrics.loss(r, np.array(metrics.LOSS_HZ)), metrics.loss(r, f))
    losses, wide = (np.broadcast_to(loss, (rows, loss.shape[-1])) for loss in curves)
    numbers = zip(*(np.broadcast_to(x, rows).tolist() for x in single), strict=True)
    return [
        _report(board, state, row, losses[i].tolist(), _regions(f, wide[i]))
        for i, (board, row) in enumerate(zip(boards, numbers, strict=True))
    ]


def _treble_losses(r: Response, basis: Basis) -> FloatArray:
    f = basis.frequency
    return metrics.treble_loss_of(metrics.decibels(r.reference(f)), metrics.decibels(r(f)))


def _report(
    board: Board,
    state: State,
    numbers: Sequence[float],
    losses: Sequence[float],
    regions: tuple[Region | None, Region | None],
) -> StateReport:
    """Return all numbers of one state of one board; not a number stands for none."""
    level, level_loss, treble, with_lead, *shape = numbers
    corner, peak, height, reference_corner, reference_peak, reference_height = shape
    return StateReport(
        state=state,
        level=level,
        level_change=-level_loss,
        treble_loss=treble,
        treble_loss_with_lead=with_lead,
        losses=dict(zip(metrics.LOSS_HZ, losses, strict=True)),
        corner=_some(corner),
        resonance=_resonance(peak, height),
        reference_corner=_some(reference_corner),
        reference_resonance=_resonance(reference_peak, reference_height),
        verdict=metrics.verdict(treble) or "silent",
        gain_region=regions[0],
        loss_region=regions[1],
        hand_check=hand_check(board, state.on),
        hidden=board.state(set(state.on) - board.heard(state.on)).on,
    )


def _some(value: float) -> float | None:
    return None if math.isnan(value) else value


def _resonance(frequency: float, height: float) -> metrics.Resonance | None:
    return None if math.isnan(frequency) else metrics.Resonance(frequency, height)


def _regions(f: FloatArray, loss: FloatArray) -> tuple[Region | None, Region | None]:
    """Return where a state adds and where it takes most, if it does both noticeably."""
    if not np.isfinite(loss).all():
        return None, None
    least, most = int(np.argmin(loss)), int(np.argmax(loss))
    if loss[least] > -metrics.NOTICED_DB or loss[most] < metrics.NOTICED_DB:
        return None, None
    return Region(float(f[least]), float(loss[least])), Region(float(f[most]), float(loss[most]))
