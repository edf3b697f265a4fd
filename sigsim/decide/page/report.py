"""All that the page shows, gathered: every question of the tool asked once about one board."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.decide.blame.report import BlameReport, blame_worst
from sigsim.decide.buffer.instead import Instead, instead_of_buffer
from sigsim.decide.buffer.report import BufferReport, buffer_report
from sigsim.decide.buffer.views import ALL_STATES
from sigsim.decide.cables.candidates import candidates
from sigsim.decide.cables.report import CableQuestion, CablesReport, cables_report
from sigsim.decide.check.caution import Caution
from sigsim.decide.check.cautions import cautions
from sigsim.decide.compare import FEWEST, MOST, CompareReport, compare
from sigsim.decide.cures import Remedy, remedies
from sigsim.decide.limits import THINGS, exceeded, most, refuse_beyond
from sigsim.decide.loss.report import LossReport, loss_report
from sigsim.decide.page.coefficients import frequencies, pickup_factor, split_factor
from sigsim.decide.page.figures import Figures, figures
from sigsim.decide.power.report import PowerReport, PowerUntold, power_where_told
from sigsim.metrics import AUDIBLE_HZ, LEVEL_HZ, Basis
from sigsim.states.response import Response, Solver

if TYPE_CHECKING:
    from collections.abc import Mapping

    from sigsim.board.model import Board
    from sigsim.board.state import State
    from sigsim.items.cable import CableSpec
    from sigsim.items.stage import ActiveStage
    from sigsim.physics.arrays import ComplexArray, FloatArray, Impedance

# So many things in a chain can be clicked and still be overlooked, and followed in 50 ms.
MOST_ITEMS: Final = most("report", THINGS)
# Over this many the answers of buffer, cables and blame take longer than a page is worth.
MOST_SEARCHED: Final = 160
# The frequencies at which the page draws.
DRAWN: Final = np.geomspace(LEVEL_HZ, AUDIBLE_HZ[1], 301)


@dataclass(frozen=True)
class ReportQuestion:
    """What the page is asked to show.

    Attributes
    ----------
    board : the board
    others : boards laid over it
    basis : what a loss is measured against and over
    buffer : the buffer that is tried
    cables : the cables that are tried, by name
    only_scenes : whether the page shows the scenes only, without switches
    """

    board: Board
    others: tuple[Board, ...]
    basis: Basis
    buffer: ActiveStage
    cables: Mapping[str, CableSpec]
    only_scenes: bool


@dataclass(frozen=True)
class Overlay:
    """Another board's numbers and two of its curves.

    Attributes
    ----------
    report : every stage off, each scene, and the worst
    gain : by state: every stage off and the worst, at `DRAWN` [dB]
    """

    report: LossReport
    gain: tuple[FloatArray, FloatArray]


@dataclass(frozen=True)
class SceneCurves:
    """The reciprocal 1/H [-] of one state and of two references, times the pickups' factor.

    Attributes
    ----------
    state : the state
    board : its own, times `splits` too
    reference, bare : of what it is measured against
    splits : what takes the dips that splits make out of it
    """

    state: State
    board: ComplexArray
    splits: Impedance
    reference: ComplexArray
    bare: ComplexArray


@dataclass(frozen=True)
class ReportData:
    """What the page shows.

    Attributes
    ----------
    question : what was asked
    losses : every stage off, each scene, and the worst
    scenes : for a page without switches, else empty
    buffer, instead : what a buffer would do and what else would; None where not asked for
    remedies : for stages from which the pickup is always hidden
    cables, blame : as the buffer
    cautions, figures : of the board
    overlays : of the other boards
    power : what feeds the board, None where the file has no supplies
    compared : all boards in the same states; None for one alone, or for too many
    """

    question: ReportQuestion
    losses: LossReport
    scenes: tuple[SceneCurves, ...]
    buffer: BufferReport | None
    instead: tuple[Instead, ...]
    remedies: tuple[Remedy, ...]
    cables: CablesReport | None
    blame: BlameReport | None
    cautions: tuple[Caution, ...]
    figures: tuple[Figures, ...]
    overlays: tuple[Overlay, ...]
    compared: CompareReport | None
    power: PowerReport | PowerUntold | None = None


def report_data(question: ReportQuestion) -> ReportData:
    """Gather all that the page shows.

    Raises
    ------
    SigsimError : more things in the chain than the page can show with switches
    """
    board = question.board
    size = sum(1 for _ in board.items())
    if not question.only_scenes:
        refuse_beyond(board, "report")
    losses = loss_report(board, board.named_states(), question.basis)
    beyond = {excess.limit.command for excess in exceeded(board)}
    searchable = size <= MOST_SEARCHED and beyond.isdisjoint(("buffer", "cables", "blame"))
    searched = searchable and not losses.worst.silent
    return ReportData(
        question=question,
        losses=losses,
        scenes=tuple(_scene_curves(question, losses)) if question.only_scenes else (),
        buffer=_buffer(question) if searched else None,
        instead=instead_of_buffer(board, [ALL_STATES]) if searched else (),
        remedies=remedies(board) if searched else (),
        cables=_cables(question) if searched else None,
        blame=blame_worst(board, question.basis) if searched else None,
        cautions=cautions(board),
        figures=figures(board),
        overlays=tuple(_overlay(other, question) for other in question.others),
        compared=_compared(question),
        power=power_where_told(board),
    )


def _compared(question: ReportQuestion) -> CompareReport | None:
    boards = (question.board, *question.others)
    return compare(boards, question.basis) if FEWEST <= len(boards) <= MOST else None


def _buffer(question: ReportQuestion) -> BufferReport | None:
    return buffer_report(question.board, question.buffer, every=False)


def _cables(question: ReportQuestion) -> CablesReport | None:
    board = question.board
    if next(board.pieces(), None) is None:
        return None
    asked = CableQuestion(board, question.basis)
    return cables_report(asked, candidates(board, question.cables))


def _scene_curves(question: ReportQuestion, losses: LossReport) -> list[SceneCurves]:
    """Return the curves of every stage off, each scene and the worst."""
    solver = Solver(question.board)
    f = frequencies(question.basis)
    factor = pickup_factor(solver.circuit(f))
    made = []
    for state in (measured.state for measured in (*losses.states, losses.worst)):
        r = Response(solver, state.on, f, question.basis.reference)
        bare = Response(solver, state.on, f, "bare").reference
        with np.errstate(all="ignore"):
            splits = split_factor(solver.circuit(f), state.on)
            own, references = splits * factor / r.H, (factor / r.reference.H, factor / bare.H)
            made.append(SceneCurves(state, own, splits, *references))
    return made


def _overlay(board: Board, question: ReportQuestion) -> Overlay:
    report = loss_report(board, board.named_states(), question.basis)
    solver = Solver(board)
    off, worst = (
        Response(solver, on, DRAWN, question.basis.reference) for on in ((), report.worst.state.on)
    )
    return Overlay(report, (off.gain_db, worst.gain_db))
