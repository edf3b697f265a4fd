"""Build this board or that one: the same numbers for several boards, and their differences."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from string import ascii_uppercase
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim import metrics
from sigsim.board.state import ALL_OFF, State
from sigsim.decide.limits import refuse_beyond
from sigsim.decide.loss.curves import DRAWN, NamedCurve
from sigsim.decide.loss.report import StateReport, assess
from sigsim.decide.pickup import Hidden, hidden_pickups
from sigsim.errors import SigsimError, UnknownNameError
from sigsim.metrics import USUAL_BASIS, Basis
from sigsim.physics.arrays import scalar
from sigsim.states.response import Response, Solver, grid
from sigsim.states.search import worst_state

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.items.cable import Cable, CableSpec
    from sigsim.physics.arrays import FloatArray

WORST: Final = "worst"
AS_WRITTEN: Final = "as written"
FEWEST, MOST = 2, 26


@dataclass(frozen=True)
class Cell:
    """One board in one state.

    Attributes
    ----------
    report : all numbers, as `loss` reports them
    treble : mean gain at the centres of the treble band [dB]: what arrives, whatever the reference
    """

    report: StateReport
    treble: float

    @property
    def over_level(self) -> float:
        """The treble that arrives over the level at 100 Hz [dB]."""
        return _minus(self.treble, self.report.level)


@dataclass(frozen=True)
class Difference:
    """A board minus the first one, in one state.

    Attributes
    ----------
    treble_loss, level, losses : [dB]; losses by frequency [Hz]
    treble_loss_with_lead : of the losses that count the lead too [dB]
    treble : of what arrives [dB]; over_level : of what of it is over the level at 100 Hz [dB]
    reference_level : of the references, at 100 Hz [dB]
    corner, resonance : [Hz], None where either board has none
    resonance_height : [dB], likewise
    """

    treble_loss: float
    treble_loss_with_lead: float
    level: float
    losses: dict[float, float]
    treble: float
    over_level: float
    reference_level: float
    corner: float | None
    resonance: float | None
    resonance_height: float | None

    @property
    def heard_otherwise(self) -> bool:
        """Whether what arrives differs otherwise than the losses, because the references do."""
        treble = abs(self.over_level + self.treble_loss) >= metrics.NOTICED_DB
        return treble or abs(self.reference_level) >= metrics.NOTICED_DB


@dataclass(frozen=True)
class Row:
    """One state of all boards.

    Attributes
    ----------
    name : every stage off, a scene, or the worst
    cells : by board; None where a board has no such scene
    differences : by board, against the first; None for the first itself and where one is missing
    """

    name: str
    cells: tuple[Cell | None, ...]
    differences: tuple[Difference | None, ...]

    @property
    def title(self) -> str:
        """The name that a person reads."""
        states = [cell.report.state for cell in self.cells if cell is not None]
        return next((s.title for s in states if s.name == self.name), self.name)


@dataclass(frozen=True)
class CompareReport:
    """What `compare` answers.

    Attributes
    ----------
    boards : in the order given
    basis : what a loss is measured against and over
    rows : every stage off, the scenes that more than one board has, the worst of all states
    scenes : the names of these scenes
    proven : by board, whether its worst state is the result of a complete search
    asked : the scenes that were asked for, empty for none
    hidden : by board, the stages that want to see the pickup and do not in all states
    names : by board, what it is called here; empty for letters
    """

    boards: tuple[Board, ...]
    basis: Basis
    rows: tuple[Row, ...]
    scenes: tuple[str, ...]
    proven: tuple[bool, ...]
    asked: tuple[str, ...]
    hidden: tuple[tuple[Hidden, ...], ...]
    names: tuple[str, ...] = ()

    @property
    def labels(self) -> tuple[str, ...]:
        """What each board is called: A, B, C, or by its name."""
        return self.names or tuple(ascii_uppercase[: len(self.boards)])

    @cached_property
    def leads_differ(self) -> bool:
        """Whether losses are told with the lead, because the boards have different ones."""
        leads = [board.lead for board in self.boards]
        first = _bought(leads[0])
        return self.basis.reference == "ideal" and any(_bought(one) != first for one in leads[1:])

    def counted(self, report: StateReport) -> float:
        """Return the treble loss [dB] by which boards are compared: with leads if they differ."""
        return report.treble_loss_with_lead if self.leads_differ else report.treble_loss

    @property
    def headlines(self) -> tuple[Row, ...]:
        """The rows that the answer is about: the scenes asked for, or the worst."""
        return tuple(row for row in self.rows[1:-1] if row.name in self.asked) or (self.worst,)

    @property
    def worst(self) -> Row:
        """The worst of all states of each board."""
        return self.rows[-1]


def _bought(lead: Cable | None) -> tuple[CableSpec, float] | None:
    """Return what makes one lead differ from another."""
    return None if lead is None else (lead.spec, scalar(lead.length))


def version_names(board: Board) -> tuple[str, ...]:
    """Return what a board as it is written and with each of its variants are called."""
    written = AS_WRITTEN
    while written in board.variants:
        written = f"the file {written}"
    return (written, *board.variants)


def compare(
    boards: Sequence[Board],
    basis: Basis = USUAL_BASIS,
    only: Sequence[str] = (),
    names: Sequence[str] = (),
) -> CompareReport:
    """Measure several boards in the same states.

    Parameters
    ----------
    boards : two or more
    basis : what a loss is measured against and over
    only : scenes to keep; all that at least two boards have without
    names : what each board is called, empty for letters

    Raises
    ------
    SigsimError : too few or too many boards, or one that is too large
    UnknownNameError : a scene that fewer than two boards have
    """
    if not FEWEST <= len(boards) <= MOST:
        raise SigsimError(
            "this many boards cannot be compared",
            found=str(len(boards)),
            accepted=f"{FEWEST} to {MOST} board files",
        )
    for board in boards:
        refuse_beyond(board, "compare")
    scenes = _shared(boards)
    for name in only:
        if name not in scenes:
            raise UnknownNameError("shared scene", name, scenes, where="--scene")
    scenes = tuple(name for name in scenes if not only or name in only)
    solvers = [Solver(board) for board in boards]
    extremes = [worst_state(board, basis) for board in boards]
    states: list[tuple[str, list[State | None]]] = [
        (ALL_OFF, [board.state(()) for board in boards]),
        *((n, [b.scene(n) if n in b.scenes else None for b in boards]) for n in scenes),
        (WORST, [b.state(extreme.on) for b, extreme in zip(boards, extremes, strict=True)]),
    ]
    rows = tuple(
        _row(name, [_cell(*pair, basis) for pair in zip(solvers, each, strict=True)])
        for name, each in states
    )
    proven = tuple(extreme.exact for extreme in extremes)
    hidden = tuple(hidden_pickups(board) for board in boards)
    return CompareReport(
        tuple(boards), basis, rows, scenes, proven, tuple(only), hidden, tuple(names)
    )


def _shared(boards: Sequence[Board]) -> tuple[str, ...]:
    """Return the scenes that at least two boards have, in the order of the boards."""
    names = [name for board in boards for name in board.scenes]
    return tuple(name for name in dict.fromkeys(names) if names.count(name) > 1)


def _cell(solver: Solver, state: State | None, basis: Basis) -> Cell | None:
    if state is None:
        return None
    response = Response(solver, state.on, grid(points=2), basis.reference)
    treble = metrics.decibels(response(basis.centres))
    return Cell(assess(solver, state, basis), float(np.mean(treble)))


def _row(name: str, cells: Sequence[Cell | None]) -> Row:
    first = cells[0]
    later = [None if first is None or c is None else _difference(first, c) for c in cells[1:]]
    return Row(name, tuple(cells), (None, *later))


def _difference(first: Cell, other: Cell) -> Difference:
    a, b = first.report, other.report
    peaks = (a.resonance, b.resonance) if a.resonance and b.resonance else None
    return Difference(
        treble_loss=b.treble_loss - a.treble_loss,
        treble_loss_with_lead=b.treble_loss_with_lead - a.treble_loss_with_lead,
        level=_minus(b.level, a.level),
        losses={f: loss - a.losses[f] for f, loss in b.losses.items()},
        treble=_minus(other.treble, first.treble),
        over_level=_minus(other.over_level, first.over_level),
        reference_level=_minus(b.level - b.level_change, a.level - a.level_change),
        corner=None if a.corner is None or b.corner is None else b.corner - a.corner,
        resonance=None if peaks is None else peaks[1].frequency - peaks[0].frequency,
        resonance_height=None if peaks is None else peaks[1].height - peaks[0].height,
    )


def _minus(one: float, other: float) -> float:
    """Return a difference of levels [dB], not a number between two silences."""
    return one - other if np.isfinite(one) and np.isfinite(other) else float("nan")


@dataclass(frozen=True)
class BoardCurves:
    """The curves of one board: every stage off first, its worst state last."""

    board: Board
    curves: tuple[NamedCurve, ...]


def compare_curves(report: CompareReport, frequency: FloatArray = DRAWN) -> tuple[BoardCurves, ...]:
    """Return what a plot shows of each board: every stage off and its worst state.

    Parameters
    ----------
    report : from `compare`
    frequency : [Hz], shape (frequency,)

    Returns
    -------
    by board; one curve where the worst state is every stage off
    """
    found = []
    for number, board in enumerate(report.boards):
        solver, cell = Solver(board), report.worst.cells[number]
        on = cell.report.state.on if cell is not None else ()
        off = board.state(()).title
        curves = []
        for name, state in ({off: (), WORST: on} if on else {f"{off} (worst)": on}).items():
            r = Response(solver, state, frequency, report.basis.reference)
            curves.append(NamedCurve(name, frequency, r.gain_db, r.loss_db, None))
        found.append(BoardCurves(board, tuple(curves)))
    return tuple(found)
