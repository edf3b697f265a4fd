"""Boards of many draws solved a chunk at a time: every metric of every draw in some states."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.metrics import USUAL_BASIS, Basis, decibels, over_level
from sigsim.states.circuit import Circuit
from sigsim.states.shape import GRID, LEVEL_POINT, Half, Scratch, Shapes
from sigsim.states.varied import Varied, at_places

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import On
    from sigsim.physics.arrays import ComplexArray, FloatArray

# Rows solved at once: small enough for the processor's cache. With many items there are fewer, so
# that the memory that draws need does not grow with the board either.
_MOST_ROWS: Final = 64
_ROWS_TIMES_ITEMS: Final = 3200
_WORKERS: Final = 2

METRICS: Final = ("treble_loss", "level", "corner", "resonance", "resonance_height")


@dataclass(frozen=True)
class Drawn:
    """Some draws of a board in one state; not a number stands for none.

    Attributes
    ----------
    gain : [dB] on `shape.GRID`, shape (rows, grid)
    metrics : by name, [dB] or [Hz], each of shape (rows,)
    """

    gain: FloatArray
    metrics: dict[str, FloatArray]


class DrawSolver:
    """A board of which some quantities vary, in some states.

    Parameters
    ----------
    board : the board
    quantities : what varies
    basis : what the loss is measured against and over

    Attributes
    ----------
    rows : how many draws to solve at once
    """

    def __init__(
        self, board: Board, quantities: Sequence[Varied], basis: Basis = USUAL_BASIS
    ) -> None:
        self.board, self.quantities, self.basis = board, quantities, basis
        items = sum(1 for _ in board.items())
        self.rows = max(1, min(_MOST_ROWS, _ROWS_TIMES_ITEMS // max(1, items)))
        self._frequency = np.concatenate((GRID, basis.frequency))

    def solve(self, u: FloatArray, states: Iterable[On]) -> list[Drawn]:
        """Return the draws at places `u`, shape (rows, quantities), in each of some states."""
        board = at_places(self.board, self.quantities, u)
        circuit, treble = Circuit(board, self._frequency), Circuit(board, self.basis.frequency)
        return [self._drawn(circuit, treble, on, len(u)) for on in states]

    def stream(
        self, chunks: Iterable[FloatArray], states: Sequence[On]
    ) -> Iterator[tuple[FloatArray, list[Drawn]]]:
        """Yield the draws of chunk after chunk in their order, two of them computed at a time."""
        with ThreadPoolExecutor(_WORKERS) as pool:
            waiting: deque[tuple[FloatArray, Future[list[Drawn]]]] = deque()
            try:
                for u in chunks:
                    waiting.append((u, pool.submit(self.solve, u, states)))
                    if len(waiting) > 2 * _WORKERS:
                        first, future = waiting.popleft()
                        yield first, future.result()
                while waiting:
                    first, future = waiting.popleft()
                    yield first, future.result()
            finally:
                for _, future in waiting:
                    future.cancel()

    def values(self, chunks: Iterable[FloatArray], on: On, metric: str) -> FloatArray:
        """Return one metric in one state at the places of all chunks, shape (rows,)."""
        found = [drawn[0].metrics[metric] for _, drawn in self.stream(chunks, [on])]
        return np.concatenate(found) if found else np.zeros(0)

    def _drawn(self, circuit: Circuit, treble: Circuit, on: On, rows: int) -> Drawn:
        total = _in_rows(circuit.response(on), rows)
        gain, at_treble = total[:, : GRID.size], total[:, GRID.size :]
        reference = _in_rows(treble.reference(on, self.basis.reference), rows)
        with np.errstate(invalid="ignore"):
            loss = over_level(reference - at_treble)
            shapes = Shapes(Half(gain), Half(np.zeros((1, GRID.size))), Scratch(rows))
        frequency, height, _ = shapes.resonances()
        columns = (loss, gain[:, LEVEL_POINT], shapes.corners(), frequency, height)
        return Drawn(gain, dict(zip(METRICS, columns, strict=True)))


def _in_rows(H: ComplexArray, rows: int) -> FloatArray:
    """Return gains [dB], one row a draw, also where nothing in the signal's way varies."""
    gain = decibels(H)
    return np.broadcast_to(gain, (rows, gain.shape[-1]))
