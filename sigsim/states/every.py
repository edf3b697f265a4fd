"""Every state of a board, streamed in blocks with all its numbers.

A state is a path over the vertices of `segments`, and every path crosses a cut between two of them
exactly once. Left of the cut there are few different paths (a table of sums), right of it few
others; each state is one row of the left table plus one row of a right table. Blocks of a thousand
such sums fit the processor's cache, and nothing else is ever computed per state and frequency.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from threading import local
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from sigsim import metrics
from sigsim.states.ranked import Measure
from sigsim.states.response import Response, Solver, grid
from sigsim.states.segments import Arrival, TooManyRuns, Walk, chosen
from sigsim.states.shape import GRID, SHARP_DB, Half, Scratch, Shapes

if TYPE_CHECKING:
    from typing import TypeAlias

    from numpy.typing import NDArray

    from sigsim.board.model import Board
    from sigsim.physics.arrays import FloatArray

    Bits: TypeAlias = NDArray[np.uint64]

# Curves in one block: with its scratch memory it stays in a core's second-level cache.
BLOCK_ROWS: Final = 1024
_TASK_ROWS: Final = 32 * BLOCK_ROWS
_MOST_RUNS: Final = 1 << 11
MOST_SWITCHES: Final = 24


@dataclass(frozen=True)
class Block:
    """Some states with all their numbers; not a number stands for none.

    Attributes
    ----------
    on : what is on as bits, in the order of the board's switches, shape (states,)
    measures : [dB] in the order of the measures asked for, shape (measures, states)
    corner, resonance : [Hz], shape (states,)
    resonance_height : [dB], shape (states,)
    """

    on: Bits
    measures: FloatArray
    corner: FloatArray
    resonance: FloatArray
    resonance_height: FloatArray


class _Table(NamedTuple):
    """Sums of segments as rows: bits of what is on, curves on `GRID`, measures."""

    on: Bits
    curves: FloatArray
    measures: FloatArray

    def plus(self, other: _Table) -> _Table:
        """Return every row of this table with every row of the other, these slowest."""
        return _Table(
            (self.on[:, None] | other.on[None, :]).ravel(),
            (self.curves[:, None, :] + other.curves[None, :, :]).reshape(-1, GRID.size),
            (self.measures[:, None, :] + other.measures[None, :, :]).reshape(
                -1, self.measures.shape[1]
            ),
        )

    def part(self, start: int, stop: int) -> _Table:
        return _Table(self.on[start:stop], self.curves[start:stop], self.measures[start:stop])


class EveryState:
    """All states of a board, some things held on or off.

    Parameters
    ----------
    board : the board
    measures : what to add up besides the curve
    fixed : things held on or off; at most `MOST_SWITCHES` others may vary
    """

    def __init__(
        self, board: Board, measures: Sequence[Measure], fixed: Mapping[str, bool] | None = None
    ) -> None:
        self.board, self.measures = board, tuple(measures)
        self.fixed = dict(fixed or {})
        self.bit = {name: 1 << i for i, name in enumerate(board.switches())}
        self._memory = local()

    def names(self, on: int) -> frozenset[str]:
        """Return the names of what is on from the bits of a state."""
        return frozenset(name for name, bit in self.bit.items() if on & bit)

    def blocks(self, workers: int = 2) -> Iterator[Block]:
        """Yield all states, each once, in an order that is always the same.

        Parameters
        ----------
        workers : how many threads compute at once
        """
        with ThreadPoolExecutor(workers) as pool:
            waiting: deque[Future[Block]] = deque()
            try:
                for left, right, tail in self._tasks(self.fixed):
                    waiting.append(pool.submit(self._solve, left, right, tail))
                    if len(waiting) > 2 * workers:
                        yield waiting.popleft().result()
                while waiting:
                    yield waiting.popleft().result()
            finally:
                for future in waiting:
                    future.cancel()

    def _tasks(self, fixed: dict[str, bool]) -> Iterator[tuple[_Table, _Table, Half]]:
        """Yield pairs of tables that hold every state once; split where too many runs are open."""
        try:
            paths = _Paths(self, fixed)
        except TooManyRuns:
            name = next(
                item.switch
                for item in self.board.items()
                if item.switch is not None and item.switch not in fixed and not item.isolates(True)
            )
            yield from self._tasks(fixed | {name: False})
            yield from self._tasks(fixed | {name: True})
            return
        for left, right in paths.crossings():
            rows, tail = max(1, _TASK_ROWS // len(right.on)), Half(right.curves)
            for start in range(0, len(left.on), rows):
                yield left.part(start, start + rows), right, tail

    def _solve(self, left: _Table, right: _Table, tail: Half) -> Block:
        scratch = getattr(self._memory, "scratch", None)
        if scratch is None or scratch.rows < len(right.on):
            scratch = self._memory.scratch = Scratch(max(len(right.on), BLOCK_ROWS))
        with np.errstate(invalid="ignore"):
            shapes = Shapes(Half(left.curves), tail, scratch)
            sums = left.measures.T[:, :, None] + right.measures.T[:, None, :]
        corner = shapes.corners()
        resonance, height = shapes.resonances()
        on = (left.on[:, None] | right.on[None, :]).ravel()
        for row in np.flatnonzero(height > SHARP_DB):
            resonance[row], height[row] = self._sharp(int(on[row]))
        return Block(on, sums.reshape(len(self.measures), -1), corner, resonance, height)

    def _sharp(self, on: int) -> tuple[float, float]:
        """Return a very sharp resonance from the exact model."""
        found = metrics.resonance(Response(Solver(self.board), self.names(on), grid(), "ideal"))
        return (found.frequency, found.height) if found else (np.nan, np.nan)


class _Paths:
    """The segments of a board as a graph, and the cut through it."""

    def __init__(self, every: EveryState, fixed: Mapping[str, bool]) -> None:
        self.every = every
        self.columns = _Columns(every.measures)
        walk = Walk(
            every.board,
            np.concatenate((GRID, self.columns.frequency)),
            self.columns.frequency if self.columns.follow_ideal else None,
            fixed,
            most_rows=_MOST_RUNS,
        )
        self.into: list[tuple[np.ndarray, _Table]] = [(np.zeros(0, int), self._nothing(0))]
        self.into += [(arrival.starts, self._table(arrival)) for arrival in walk.arrivals()]
        self.offset = self.columns.offsets(every.board)

    def crossings(self) -> Iterator[tuple[_Table, _Table]]:
        """Yield pairs of tables: the paths up to a vertex, and all that can follow it."""
        cut = self._cut()
        left = self._left(cut)
        right = self._right(cut)
        for vertex in range(cut + 1):
            for tail in self._tails(vertex, right, cut + 1):
                yield left[vertex], tail

    def _left(self, cut: int) -> list[_Table]:
        """Return the sums of all paths from the instrument to each vertex up to the cut."""
        start = self._nothing(1)
        tables = [start._replace(measures=start.measures + self.offset)]
        for starts, edges in self.into[1 : cut + 1]:
            parts = [
                tables[begin].plus(edges.part(i, i + 1)) for i, begin in enumerate(starts.tolist())
            ]
            tables.append(_stacked(parts))
        return tables

    def _right(self, cut: int) -> dict[int, _Table]:
        """Return the sums of all paths from each vertex behind the cut to the destination."""
        last = len(self.into) - 1
        tables = {last: self._nothing(1)}
        for vertex in range(last - 1, cut, -1):
            tables[vertex] = _stacked(list(self._tails(vertex, tables, vertex + 1)))
        return tables

    def _tails(self, vertex: int, right: Mapping[int, _Table], first: int) -> Iterator[_Table]:
        """Yield what can follow a vertex by edges to vertices from `first` on, in chunks."""
        parts: list[_Table] = []
        for target in range(max(first, vertex + 1), len(self.into)):
            starts, edges = self.into[target]
            for i in np.flatnonzero(starts == vertex).tolist():
                parts.append(edges.part(i, i + 1).plus(right[target]))
                if sum(len(part.on) for part in parts) >= BLOCK_ROWS:
                    yield _stacked(parts)
                    parts = []
        if parts:
            yield _stacked(parts)

    def _cut(self) -> int:
        """Return the first vertex after which few enough paths remain for one block."""
        after = [0] * len(self.into)
        after[-1] = 1
        for target in range(len(self.into) - 1, 0, -1):
            for start in self.into[target][0].tolist():
                after[start] += after[target]
        # All paths that are open behind a vertex end in one of those that start at or before it,
        # so that the largest count of a start bounds every block.
        for vertex in range(len(self.into) - 1):
            if after[vertex] <= BLOCK_ROWS:
                return vertex
        return len(self.into) - 2

    def _table(self, arrival: Arrival) -> _Table:
        bit = self.every.bit
        own = bit[arrival.switch] if arrival.switch is not None else 0
        on = [own | sum(bit[name] for name in chosen(choice)) for choice in arrival.choices]
        gain = arrival.gain[:, GRID.size :]
        return _Table(
            np.array(on, dtype=np.uint64),
            arrival.gain[:, : GRID.size],
            self.columns.of(gain, arrival.ideal),
        )

    def _nothing(self, rows: int) -> _Table:
        return _Table(
            np.zeros(rows, dtype=np.uint64),
            np.zeros((rows, GRID.size)),
            np.zeros((rows, len(self.columns.measures))),
        )


class _Columns:
    """Several measures taken from one walk: their frequencies side by side."""

    def __init__(self, measures: Sequence[Measure]) -> None:
        self.measures = measures
        self.frequency = np.concatenate([m.frequency for m in measures])
        ends = np.cumsum([m.frequency.size for m in measures])
        self.slices = [
            slice(end - m.frequency.size, end) for end, m in zip(ends, measures, strict=True)
        ]
        self.follow_ideal = any(m.reference == "ideal" for m in measures)

    def of(self, gain: FloatArray, ideal: FloatArray) -> FloatArray:
        columns = [
            m.of(gain[:, part], ideal[:, part])
            for m, part in zip(self.measures, self.slices, strict=True)
        ]
        return np.stack(columns, axis=1)

    def offsets(self, board: Board) -> FloatArray:
        return np.array([measure.offset(board) for measure in self.measures])


def _stacked(tables: Sequence[_Table]) -> _Table:
    return _Table(*(np.concatenate(columns) for columns in zip(*tables, strict=True)))
