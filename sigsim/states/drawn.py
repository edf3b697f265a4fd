"""Boards of many draws solved a chunk at a time: every metric of every draw in some states."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, TypeVar

import numpy as np

from sigsim.metrics import (
    HALF_POWER_DB,
    LEAST_RESONANCE_DB,
    LEVEL_HZ,
    SEARCH,
    SILENT_DB,
    USUAL_BASIS,
    Basis,
    decibels,
    sounds,
    treble_loss_of,
)
from sigsim.physics.zoom import highest, last_crossing
from sigsim.states.circuit import Circuit
from sigsim.states.shape import GRID, LEVEL_POINT, Half, Scratch, Shapes
from sigsim.states.varied import Varied, at_places

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import On
    from sigsim.physics.arrays import ComplexArray, FloatArray
    from sigsim.states.forms import Index

# Rows solved at once: few enough for the processor's cache, enough that an array is over 256 KiB,
# from where numpy works in the memory of what it no longer needs. With many items there are fewer,
# so that the memory that draws need does not grow with the board either.
_MOST_ROWS: Final = 96
_ROWS_TIMES_ITEMS: Final = 3200
_WORKERS: Final = 2

METRICS: Final = ("treble_loss", "level", "corner", "resonance", "resonance_height")
# What needs no curve but the frequencies of the treble loss; the last of them is the level's.
_NEED_NO_CURVE: Final = ("treble_loss", "level")

_Found = TypeVar("_Found")


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
        with np.errstate(all="ignore"):
            return [self._drawn(circuit, treble, on, u) for on in states]

    def stream(
        self, chunks: Iterable[FloatArray], states: Sequence[On]
    ) -> Iterator[tuple[FloatArray, list[Drawn]]]:
        """Yield the draws of chunk after chunk in their order, two of them computed at a time."""
        yield from _in_turns(chunks, lambda u: self.solve(u, states))

    def values(self, chunks: Iterable[FloatArray], on: On, metric: str) -> FloatArray:
        """Return one metric in one state at the places of all chunks, shape (rows,)."""

        def of(u: FloatArray) -> FloatArray:
            if metric in _NEED_NO_CURVE:
                return self._without_curve(u, on, metric)
            return self.solve(u, [on])[0].metrics[metric]

        found = [values for _, values in _in_turns(chunks, of)]
        return np.concatenate(found) if found else np.zeros(0)

    def _without_curve(self, u: FloatArray, on: On, metric: str) -> FloatArray:
        """Return a metric of the draws at places `u` that is read at a few frequencies."""
        board, rows = at_places(self.board, self.quantities, u), len(u)
        treble = Circuit(board, self.basis.frequency)
        with np.errstate(all="ignore"):
            gain = _in_rows(treble.response(on), rows)
            if metric == "level":
                return _level(gain[:, -1])
            reference = _in_rows(treble.reference(on, self.basis.reference), rows)
            return treble_loss_of(reference, gain)

    def _drawn(self, circuit: Circuit, treble: Circuit, on: On, u: FloatArray) -> Drawn:
        rows = len(u)
        total = _in_rows(circuit.response(on), rows)
        gain, at_treble = total[:, : GRID.size], total[:, GRID.size :]
        reference = _in_rows(treble.reference(on, self.basis.reference), rows)
        loss = treble_loss_of(reference, at_treble)
        shapes = Shapes(Half.of_gain(gain), Half.nothing(), Scratch())
        corner, bent = shapes.corners()
        frequency, height, rough = shapes.resonances()
        level = _level(gain[:, LEVEL_POINT])
        self._refine_corners(u, on, corner, bent)
        self._refine_resonances(u, on, frequency, height, shapes.top, rough)
        columns = (loss, level, corner, frequency, height)
        return Drawn(gain, dict(zip(METRICS, columns, strict=True)))

    def _refine_corners(self, u: FloatArray, on: On, corner: FloatArray, rows: Index) -> None:
        """Find corners again on the exact model, between the points of the grid around them."""
        if rows.size:
            i = np.searchsorted(SEARCH, corner[rows] * (1 - 1e-9))
            below, above = SEARCH[i - 1], SEARCH[i]
            found = last_crossing(self._over_level(u[rows], on, HALF_POWER_DB), below, above)
            corner[rows] = found

    def _refine_resonances(
        self,
        u: FloatArray,
        on: On,
        frequency: FloatArray,
        height: FloatArray,
        top: Index,
        rows: Index,
    ) -> None:
        """Find resonances again on the exact model, around the points of the grid they were at."""
        if rows.size:
            at = SEARCH.size - 1 - top[rows]
            over = self._over_level(u[rows], on, 0.0)
            f, h = highest(over, SEARCH[at - 1], SEARCH[at + 1])
            high = h >= LEAST_RESONANCE_DB
            frequency[rows] = np.where(high, f, np.nan)
            height[rows] = np.where(high, np.minimum(h, -SILENT_DB), np.nan)

    def _over_level(
        self, u: FloatArray, on: On, added: float
    ) -> Callable[[FloatArray], FloatArray]:
        """Return what gives the gain over that at 100 Hz [dB] of draws at frequencies of theirs."""
        board, rows = at_places(self.board, self.quantities, u), len(u)
        level = _in_rows(Circuit(board, np.array([LEVEL_HZ])).response(on), rows)

        def heights(f: FloatArray) -> FloatArray:
            gain = np.broadcast_to(decibels(Circuit(board, f).response(on)), f.shape)
            nothing = -np.inf
            return np.nan_to_num(gain - level, nan=nothing, posinf=np.inf, neginf=nothing) + added

        return heights


def _in_rows(H: ComplexArray, rows: int) -> FloatArray:
    """Return gains [dB], one row a draw, also where nothing in the signal's way varies."""
    gain = decibels(H)
    return np.broadcast_to(gain, (rows, gain.shape[-1]))


def _level(gain: FloatArray) -> FloatArray:
    """Return the level [dB] of draws from their gain at 100 Hz [dB]; not a number where silent."""
    return np.where(sounds(gain), gain, np.nan)


def _in_turns(
    chunks: Iterable[FloatArray], solve: Callable[[FloatArray], _Found]
) -> Iterator[tuple[FloatArray, _Found]]:
    """Yield what is found for chunk after chunk in their order, two computed at a time."""
    with ThreadPoolExecutor(_WORKERS) as pool:
        waiting: deque[tuple[FloatArray, Future[_Found]]] = deque()
        try:
            for u in chunks:
                waiting.append((u, pool.submit(solve, u)))
                if len(waiting) > 2 * _WORKERS:
                    first, future = waiting.popleft()
                    yield first, future.result()
            while waiting:
                first, future = waiting.popleft()
                yield first, future.result()
        finally:
            for _, future in waiting:
                future.cancel()
