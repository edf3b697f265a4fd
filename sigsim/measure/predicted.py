"""What a plan says that will be measured: the ratio of through to without, of one board or many."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING, Final, Literal, TypeAlias

import numpy as np

from sigsim.board.edit import each_item
from sigsim.board.ends import MAIN
from sigsim.items.destination import Destination
from sigsim.items.instrument import ActiveInstrument
from sigsim.items.split import Split
from sigsim.metrics import decibels
from sigsim.states.circuit import Circuit
from sigsim.states.path import Met, path, reference_path

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import On
    from sigsim.items.base import Item
    from sigsim.measure.known import Across
    from sigsim.physics.arrays import ComplexArray, FloatArray

Without: TypeAlias = Literal["direct", "bare", "ideal"]
WITHOUT: Final[tuple[Without, ...]] = ("direct", "bare", "ideal")

# A resistor that nobody measured is bought as 1 % (common practice).
_RESISTOR_TOLERANCE: Final = 0.01
INTERFACE: Final = "interface"
RESISTOR: Final = "resistor"


def as_measured(board: Board, driven_by: float | None, interface: Across | None) -> Board:
    """Return a board with what drives and what reads it while it is measured.

    Parameters
    ----------
    board : the plan, listened at one of its ends
    driven_by : resistance in place of the instrument [Ω], None for the instrument
    interface : in place of the destination, None for the destination
    """
    if driven_by is not None:
        tolerances = {"output_resistance": _RESISTOR_TOLERANCE}
        resistor = ActiveInstrument(output_resistance=driven_by, tolerances=tolerances)
        board = replace(board, instrument=resistor)
    return board if interface is None else _read_by(board, _input(interface))


def _input(interface: Across) -> Destination:
    given = {
        "input_resistance": interface.resistance,
        "input_capacitance": interface.capacitance,
    }
    R, C = interface.resistance, interface.capacitance
    return Destination(
        name=INTERFACE,
        input_resistance=None if R is None else float(R.value),
        input_capacitance=0.0 if C is None else float(C.value),
        tolerances={key: one.tolerance for key, one in given.items() if one and one.tolerance},
    )


def _read_by(board: Board, end: Destination) -> Board:
    if board.at == MAIN:
        return replace(board, destination=end)

    def read(item: Item) -> Item:
        if isinstance(item, Split) and item.split == board.at:
            return replace(item, destination=end)
        return item

    return each_item(board, read)


def without(board: Board, on: On, means: Without) -> Iterable[Met]:
    """Return what the recording without the board went through.

    `bare` is the source straight into the input: one recording serves all states, so that there no
    stage is in the way, whatever is on.
    """
    return () if means == "bare" else reference_path(board, on, means)


class _Beside(Circuit):
    """A circuit that takes what it has in common with another one from there."""

    def __init__(self, board: Board, frequency: FloatArray, other: _Beside | None = None) -> None:
        super().__init__(board, frequency)
        if other is None:
            return
        self._steps.update(other._steps)
        # A segment is known by its items, which the instrument and the end are not.
        if board.instrument is other.board.instrument and board.end is other.board.end:
            self._gains.update(other._gains)


class Prediction:
    """A board, or many draws of it, as it would be measured.

    Parameters
    ----------
    board : as it is measured; its fields may be draws of shape (rows, 1)
    means : what the recording without it went through
    beside : the same of a board that shares most of its items, to save work
    """

    def __init__(self, board: Board, means: Without, beside: Prediction | None = None) -> None:
        self.board, self.means, self._other = board, means, beside
        self._circuits: dict[bytes, _Beside] = {}

    def _circuit(self, frequency: FloatArray) -> _Beside:
        key = frequency.tobytes()
        found = self._circuits.get(key)
        if found is None:
            other = self._other._circuits.get(key) if self._other is not None else None
            found = self._circuits[key] = _Beside(self.board, frequency, other)
        return found

    def through(self, on: On, frequency: FloatArray) -> ComplexArray:
        """Return H [-] of the board in a state at frequencies [Hz]."""
        return self._circuit(frequency).through(path(self.board.chain, on))

    def without(self, on: On, frequency: FloatArray) -> ComplexArray:
        """Return H [-] of what stands for it where it is not there, at frequencies [Hz]."""
        return self._circuit(frequency).through(without(self.board, on, self.means))

    def loss(self, on: On, frequency: FloatArray, built: On | None = None) -> FloatArray:
        """Return the loss [dB], shape (…, frequency): what is measured as -20·log10|T|.

        Parameters
        ----------
        on : what the plan has on
        frequency : [Hz]
        built : what is on instead, None for the same; what it is compared with does not change
        """
        through = self.through(on if built is None else built, frequency)
        with np.errstate(invalid="ignore"):
            taken: FloatArray = decibels(self.without(on, frequency)) - decibels(through)
        return taken


class Layout:
    """The states and frequencies at which a board is compared with what was measured.

    Parameters
    ----------
    states : what is on in each recording
    frequencies : of each [Hz]
    """

    def __init__(self, states: Sequence[On], frequencies: Sequence[FloatArray]) -> None:
        self.states, self.frequencies = tuple(states), tuple(frequencies)
        ends = np.cumsum([0, *(f.size for f in frequencies)]).tolist()
        self.parts = tuple(slice(start, stop) for start, stop in pairwise(ends))
        self.size = ends[-1]

    def loss(
        self, board: Prediction, rows: int = 1, built: Mapping[int, On] | None = None
    ) -> FloatArray:
        """Return the losses of all states side by side [dB], shape (rows, size).

        Parameters
        ----------
        board : one or many
        rows : how many they are
        built : what is on instead, by the number of the recording
        """
        found = np.empty((rows, self.size))
        for number, part in enumerate(self.parts):
            instead = (built or {}).get(number)
            on, frequency = self.states[number], self.frequencies[number]
            found[:, part] = board.loss(on, frequency, instead)
        return found
