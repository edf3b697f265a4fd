"""The response of a board in one state, and of its reference."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from sigsim.board.ends import MAIN
from sigsim.errors import QuantityError, quote
from sigsim.metrics import HIGHEST_HZ, LOWEST_HZ, decibels, sounds
from sigsim.states.circuit import Circuit

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import On
    from sigsim.metrics import Reference
    from sigsim.physics.arrays import ComplexArray, FloatArray


def grid(low: float = LOWEST_HZ, high: float = HIGHEST_HZ, points: int = 200) -> FloatArray:
    """Return `points` frequencies [Hz] from `low` to `high`, evenly spaced in pitch."""
    frequency: FloatArray = np.geomspace(low, high, points)
    return frequency


class Solver:
    """A board's circuits on the grids asked for last, shared by all curves of the board.

    Parameters
    ----------
    board : the board
    """

    # One state asks for some eight grids that all states share, and for twenty around its corners
    # and resonances, which may not push those out; of large grids fewer are kept.
    _KEPT = 40
    _KEPT_POINTS = 1 << 14

    def __init__(self, board: Board) -> None:
        self.board = board
        self._circuits: dict[bytes, Circuit] = {}

    def circuit(self, frequency: FloatArray) -> Circuit:
        """Return the board on a grid [Hz]; a grid seen lately is not computed again."""
        if frequency.ndim > 1:  # of each row's own: asked for once, and too much to keep
            return Circuit(self.board, frequency)
        key = frequency.tobytes()
        circuit = self._circuits.pop(key, None) or Circuit(self.board, frequency)
        self._circuits[key] = circuit
        while len(self._circuits) > 1 and self._is_full():
            del self._circuits[next(iter(self._circuits))]
        return circuit

    def _is_full(self) -> bool:
        points = sum(circuit.frequency.size for circuit in self._circuits.values())
        return len(self._circuits) > self._KEPT or points > self._KEPT_POINTS


class Curve:
    """A frequency response that can be asked at any frequency.

    Parameters
    ----------
    solver : of the board
    on : the names of what is on
    frequency : [Hz], shape (frequency,); the grid of `H`
    """

    def __init__(self, solver: Solver, on: On, frequency: FloatArray) -> None:
        self.solver = solver
        self.on = on
        self.frequency = frequency

    @property
    def board(self) -> Board:
        """The board."""
        return self.solver.board

    def __call__(self, frequency: FloatArray) -> ComplexArray:
        """Return H [-] at other frequencies [Hz]."""
        return self._solve(self.solver.circuit(np.atleast_1d(np.asarray(frequency, dtype=float))))

    def _solve(self, circuit: Circuit) -> ComplexArray:
        return circuit.response(self.on)

    @cached_property
    def H(self) -> ComplexArray:
        """The response [-] on the grid."""
        return self(self.frequency)

    @property
    def gain_db(self) -> FloatArray:
        """The gain [dB] on the grid; minus infinity where it is -300 dB or less."""
        gain = decibels(self.H)
        return np.where(sounds(gain), gain, -np.inf)

    @property
    def phase_deg(self) -> FloatArray:
        """The phase [degrees] on the grid, -180 to 180."""
        phase: FloatArray = np.degrees(np.angle(self.H))
        return phase


class ReferenceCurve(Curve):
    """What a state is measured against: the ideal wiring, or the lead alone."""

    def __init__(self, solver: Solver, on: On, frequency: FloatArray, reference: Reference) -> None:
        super().__init__(solver, on, frequency)
        self.which = reference

    def _solve(self, circuit: Circuit) -> ComplexArray:
        return circuit.reference(self.on, self.which)


class Response(Curve):
    """The response of a board in one state, with its reference beside it."""

    def __init__(self, solver: Solver, on: On, frequency: FloatArray, reference: Reference) -> None:
        super().__init__(solver, on, frequency)
        self.reference = ReferenceCurve(solver, on, frequency, reference)

    @property
    def loss_db(self) -> FloatArray:
        """The loss [dB] on the grid; positive means the board takes away."""
        with np.errstate(invalid="ignore"):
            loss: FloatArray = self.reference.gain_db - self.gain_db
        return loss


def _frequencies(given: object) -> FloatArray:
    try:
        frequency = np.atleast_1d(np.asarray(given, dtype=float))
    except (TypeError, ValueError):
        frequency = np.array([np.nan])
    if frequency.ndim != 1 or not np.all(np.isfinite(frequency) & (frequency > 0)):
        raise QuantityError(
            "frequencies are numbers of hertz, more than 0, in a row", found=quote(str(given))
        )
    return frequency


def response(
    board: Board,
    on: Iterable[str] = (),
    frequency: FloatArray | None = None,
    reference: Reference = "ideal",
    at: str = MAIN,
) -> Response:
    """Solve a board in one state.

    Parameters
    ----------
    board : from `read_board`
    on : the names of the stages and loops that are on, or a state of the board such as a scene
    frequency : [Hz], more than zero; 200 points from 20 Hz to 40 kHz without
    reference : "ideal" (same stages on, no wiring) or "direct" (the lead alone)
    at : the split at whose end one listens; without, the end that the board itself is listened at

    Returns
    -------
    Response, with `frequency`, `H`, `gain_db`, `phase_deg`, `loss_db` and `reference`

    Raises
    ------
    UnknownNameError : a name in `on` or `at` that the board does not have
    QuantityError : a frequency that is not a number more than zero
    """
    board = board.heard_at(at) if at else board
    names = {on} if isinstance(on, str) else set(on)
    where = grid() if frequency is None else _frequencies(frequency)
    return Response(Solver(board), board.checked(names, board.file).on, where, reference)
