"""A board and its reference side by side: the columns of a graph."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.items.split import Split
from sigsim.physics.source import Load
from sigsim.states.circuit import Circuit
from sigsim.states.graph import NOTHING, Choice
from sigsim.states.loads import loads
from sigsim.states.path import in_reference

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.items.base import Item
    from sigsim.metrics import Reference
    from sigsim.physics.arrays import ComplexArray, FloatArray, Impedance
    from sigsim.physics.source import Source
    from sigsim.states.graph import Flags

# Entries of a chain matrix.
_MATRIX: Final = 4


class Sides:
    """The columns of a graph: a board and its reference side by side.

    Parameters
    ----------
    board, frequency, ideal_frequency, reference, silent : see `board_graph`
    """

    def __init__(
        self,
        board: Board,
        frequency: FloatArray,
        ideal_frequency: FloatArray | None,
        reference: Reference,
        *,
        silent: bool = False,
    ) -> None:
        self.silent = silent
        self.circuits = [Circuit(board, frequency)]
        if ideal_frequency is not None:
            same = np.array_equal(frequency, ideal_frequency)
            self.circuits.append(self.circuits[0] if same else Circuit(board, ideal_frequency))
        self.reference: Reference = reference

    @property
    def size(self) -> int:
        """How many columns there are."""
        return sum(circuit.frequency.size for circuit in self.circuits)

    def start(self) -> ComplexArray:
        """Return p and q of the instrument, shape (2, columns)."""
        return self._beside([_row(circuit.start) for circuit in self.circuits])

    def end(self) -> ComplexArray:
        """Return r and s of the destination, shape (2, columns)."""
        return self._beside([_column(circuit.load) for circuit in self.circuits])

    def output(self, stage: Item) -> ComplexArray:
        """Return p and q behind a powered stage that is on, shape (2, columns)."""
        return self._beside([_row(circuit.step(stage, True).output) for circuit in self.circuits])

    def input(self, stage: Item) -> ComplexArray:
        """Return r and s of a powered stage that is on, shape (2, columns)."""
        loads = [Load(circuit.step(stage, True).input) for circuit in self.circuits]
        return self._beside([_column(load) for load in loads])

    def matrix(self, item: Item, on: bool) -> ComplexArray:
        """Return the chain matrix of what is met, shape (4, columns)."""
        parts: list[tuple[Impedance, ...]] = []
        for number, circuit in enumerate(self.circuits):
            if number and not in_reference(item, on, self.reference):
                parts.append((1.0, 0.0, 0.0, 1.0))
            elif item.isolates(on):
                step = circuit.step(item, on)
                (E, Z), Y = step.output, step.input
                parts.append((1 / E, Z / E, Y / E, Y * Z / E))
            else:
                parts.append(tuple(circuit.step(item, on).matrix))
        return self._beside(parts)

    def matrices(self, item: Item, fixed: Mapping[str, bool]) -> ComplexArray:
        """Return the chain matrices of what an item without a switch of its own can be."""
        if isinstance(item, Split):
            return self.loads(item, fixed)[1]
        return self.matrix(item, True)[:, None]

    def loads(self, split: Split, fixed: Mapping[str, bool]) -> tuple[list[Choice], ComplexArray]:
        """Return what a split can be to the line, and the matrices, shape (4, options, columns)."""
        found = loads(split, fixed, self.circuits[0])
        wire = np.array([1.0, 0.0, 0.0, 1.0], dtype=complex)[:, None, None]
        matrices = np.broadcast_to(wire, (4, len(found.choices), self.size)).copy()
        matrices[2, :, : found.Y.shape[1]] = found.Y
        return found.choices, matrices

    def cuts(self, item: Item, on: bool) -> bool:
        """Return whether what follows sees neither the board nor the reference before it."""
        alone = len(self.circuits) == 1
        return item.isolates(on) and (alone or in_reference(item, on, self.reference))

    def alive(self, values: ComplexArray) -> tuple[ComplexArray, Flags]:
        """Return matrices, rows or columns without infinities, and which are not silent.

        Where nothing comes at some frequencies alone it takes more than any real part.

        Parameters
        ----------
        values : shape (entries, options, columns)

        Returns
        -------
        the same, and shape (options,)
        """
        good = np.asarray(np.isfinite(values).all(axis=0), dtype=bool)
        if good.all():
            return values, np.ones(values.shape[1], bool)
        sides = np.split(good, [self.circuits[0].frequency.size], axis=1)
        alive = np.all([side.any(axis=1) for side in sides if side.shape[1]], axis=0)
        alive |= self.silent
        nothing = np.zeros((len(values), 1, 1), dtype=complex)
        nothing[[0, -1] if len(values) == _MATRIX else [0]] = NOTHING
        return np.where(good, values, nothing), alive

    def _beside(self, parts: Sequence[tuple[Impedance, ...]]) -> ComplexArray:
        """Return values of each circuit side by side, shape (values, columns)."""
        made = np.empty((len(parts[0]), self.size), dtype=complex)
        first = 0
        for values, circuit in zip(parts, self.circuits, strict=True):
            columns = slice(first, first + circuit.frequency.size)
            for number, value in enumerate(values):
                made[number, columns] = value
            first = columns.stop
        return made


def before(matrix: ComplexArray, column: ComplexArray) -> ComplexArray:
    """Return r and s before a chain matrix from those behind it, shape (2, columns)."""
    (A, B, C, D), (r, s) = matrix, column
    return np.stack((A * r + B * s, C * r + D * s))


def behind(row: ComplexArray, matrix: ComplexArray) -> ComplexArray:
    """Return p and q behind a chain matrix from those before it, shape (2, columns)."""
    (p, q), (A, B, C, D) = row, matrix
    return np.stack((p * A + q * C, p * B + q * D))


def _row(source: Source) -> tuple[Impedance, ...]:
    return 1 / source.E, source.Z / source.E


def _column(load: Load) -> tuple[Impedance, ...]:
    """Return r and s of an input, so that 1/H = p·r + q·s."""
    return (1.0, load.Y) if load.share is None else (1 / load.share, load.Y / load.share)
