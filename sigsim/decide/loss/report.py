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
from sigsim.states.search import worst_state

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import On, State

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
    merged : the states with those that are the same as one
    worst_among : which of `merged` the worst is the same as, None for none of them
    """

    board: Board
    basis: Basis
    states: tuple[StateReport, ...]
    worst: StateReport
    proven: bool
    merged: tuple[Fold[StateReport], ...]
    worst_among: int | None

    @property
    def heaviest(self) -> StateReport:
        """The state asked for that loses most; the first if all are silent."""
        sounding = [state for state in self.states if not state.silent]
        return max(sounding, key=lambda state: state.treble_loss, default=self.states[0])


def loss_report(board: Board, states: Sequence[State], basis: Basis = USUAL_BASIS) -> LossReport:
    """Measure some states and the worst of all.

    Parameters
    ----------
    board : the board
    states : of the board
    basis : what a loss is measured against and over

    Raises
    ------
    SigsimError : the board is too large
    """
    refuse_beyond(board, "loss")
    solver = Solver(board)
    extreme = worst_state(board, basis)
    reports = tuple(assess(solver, state, basis) for state in states)
    at_worst = assess(solver, board.state(extreme.on), basis)
    merged, worst_among = _merged(solver, reports, at_worst, basis)
    return LossReport(board, basis, reports, at_worst, extreme.exact, merged, worst_among)


def _merged(
    solver: Solver, states: Sequence[StateReport], worst: StateReport, basis: Basis
) -> tuple[tuple[Fold[StateReport], ...], int | None]:
    """Return the states with those of the same response as one, and where the worst is in them."""
    folds = folded(
        (*states, worst),
        lambda report: same_response(solver, report.state.on, basis),
        within=SAME_DB,
    )
    found = []
    for fold in folds:
        rows = tuple(row for row in fold.rows if row is not worst)
        found.append((rows, len(rows) < len(fold.rows)))
    merged = [(Fold(1, rows[0], rows[1:]), at_worst) for rows, at_worst in found if rows]
    among = next((i for i, (_, at_worst) in enumerate(merged) if at_worst), None)
    return tuple(fold for fold, _ in merged), among


def same_response(solver: Solver, on: On, basis: Basis) -> list[float]:
    """Return what two states have alike if nobody can tell them apart [dB].

    Parameters
    ----------
    solver : of the board
    on : the names of what is on
    basis : what a loss is measured against and over

    Returns
    -------
    gain and loss at `COMPARED_HZ` and where the treble loss is taken, and the treble loss
    """
    frequency = np.append(COMPARED_HZ, basis.frequency)
    r = Response(solver, on, frequency, basis.reference)
    treble = metrics.over_level(r.loss_db[COMPARED_HZ.size :])
    return [*r.gain_db.tolist(), *r.loss_db.tolist(), float(treble)]


def assess(solver: Solver, state: State, basis: Basis = USUAL_BASIS) -> StateReport:
    """Measure one state.

    Parameters
    ----------
    solver : of the board
    state : of the board
    basis : what a loss is measured against and over
    """
    board, on = solver.board, state.on
    r = Response(solver, on, grid(), basis.reference)
    bare = r if basis.reference == "bare" else Response(solver, on, grid(), "bare")
    treble = metrics.treble_loss(r, basis.band)
    losses = metrics.loss(r, np.array(metrics.LOSS_HZ))
    adds, takes = _regions(r)
    return StateReport(
        state=state,
        level=metrics.level(r),
        level_change=-float(metrics.loss(r, np.array([metrics.LEVEL_HZ]))[0]),
        treble_loss=treble,
        treble_loss_with_lead=metrics.treble_loss(bare, basis.band),
        losses=dict(zip(metrics.LOSS_HZ, losses.tolist(), strict=True)),
        corner=metrics.corner(r),
        resonance=metrics.resonance(r),
        reference_corner=metrics.corner(r.reference),
        reference_resonance=metrics.resonance(r.reference),
        verdict=metrics.verdict(treble) or "silent",
        gain_region=adds,
        loss_region=takes,
        hand_check=hand_check(board, on),
        hidden=board.state(set(on) - board.heard(on)).on,
    )


def _regions(r: Response) -> tuple[Region | None, Region | None]:
    """Return where a state adds and where it takes most, if it does both noticeably."""
    f = metrics.third_octaves(*_REGIONS)
    loss = metrics.loss(r, f)
    if not np.isfinite(loss).all():
        return None, None
    least, most = int(np.argmin(loss)), int(np.argmax(loss))
    if loss[least] > -metrics.NOTICED_DB or loss[most] < metrics.NOTICED_DB:
        return None, None
    return Region(float(f[least]), float(loss[least])), Region(float(f[most]), float(loss[most]))
