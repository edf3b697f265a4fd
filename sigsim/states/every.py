"""Every state of a board, streamed in blocks with all its numbers.

A state is a path over the vertices of `segments`, and every path crosses a cut between two of them
exactly once. Left of the cut there are few different paths (a table of sums), right of it few
others; each state is one row of the left table plus one row of a right table (`blocks`).
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from threading import local
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from sigsim.states.blocks import StateBlock, solve_block
from sigsim.states.distinct import distinct_states
from sigsim.states.forms import GRID, Half, Scratch
from sigsim.states.front import names_along
from sigsim.states.levels import Levelled
from sigsim.states.measure import Measure, Measures
from sigsim.states.refined import Refiner
from sigsim.states.segments import Arrival, TooManyRuns, Walk
from sigsim.states.ways import multiplying

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sigsim.board.model import Board
    from sigsim.physics.arrays import FloatArray
    from sigsim.states.blocks import Bits

__all__ = ["MOST_SWITCHES", "WORD", "EveryState", "StateBlock"]

# Rows of a right table.
BLOCK_ROWS: Final = 1024
# States in one block: enough that the calls for it do not count, and few for the cache.
_TASK_ROWS: Final = 16 * BLOCK_ROWS
_MOST_RUNS: Final = 1 << 11
MOST_SWITCHES: Final = 24
WORD: Final = 63


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

    def some(self, rows: NDArray[np.int64]) -> _Table:
        return _Table(self.on[rows], self.curves[rows], self.measures[rows])


class EveryState:
    """All states of a board, some things held on or off.

    Parameters
    ----------
    board : the board
    measures : what to add up besides the curve
    fixed : things held on or off; what varies makes at most 2^`MOST_SWITCHES` states
    """

    def __init__(
        self, board: Board, measures: Sequence[Measure], fixed: Mapping[str, bool] | None = None
    ) -> None:
        self.board, self.measures = board, Levelled(measures)
        self.fixed = dict(fixed or {})
        names = board.switches()
        # More switches than bits: fine for the extremes, which do not ask what is on.
        self.bit = {n: 1 << i if len(names) <= WORD else 0 for i, n in enumerate(names)}
        self._memory = local()
        self._refiner = Refiner(board, self.bit, self.fixed)

    def names(self, on: int) -> frozenset[str]:
        """Return the names of what is on from the bits of a state."""
        return frozenset(name for name, bit in self.bit.items() if on & bit)

    def blocks(self, workers: int = 2) -> Iterator[StateBlock]:
        """Yield all states, each once, in an order that is always the same.

        Parameters
        ----------
        workers : how many threads compute at once
        """
        with ThreadPoolExecutor(workers) as pool:
            waiting: deque[Future[StateBlock]] = deque()
            try:
                for left, right, tail in self._tasks():
                    waiting.append(pool.submit(self._solve, left, right, tail))
                    if len(waiting) > 2 * workers:
                        yield waiting.popleft().result()
                while waiting:
                    yield waiting.popleft().result()
            finally:
                for future in waiting:
                    future.cancel()

    def pairs(self) -> Iterator[tuple[_Table, _Table]]:
        """Yield pairs of tables; each row of the left with each of the right is one state."""
        total = distinct_states(self.board, self.fixed)
        yield from self._pairs(self.fixed, max(16, math.isqrt(total)))

    def extremes(self) -> tuple[FloatArray, FloatArray]:
        """Return the least and the largest gain [dB] of all states at each point of `GRID`.

        It follows only the least and the largest sum to each vertex: any number of things may vary.
        """
        found = [paths.extremes() for paths in self._paths(self.fixed, alike=False)]
        return np.min([low for low, _ in found], axis=0), np.max([up for _, up in found], axis=0)

    def _tasks(self) -> Iterator[tuple[_Table, _Table, Half]]:
        for left, right in self._pairs(self.fixed, BLOCK_ROWS):
            rows, tail = max(1, _TASK_ROWS // len(right.on)), Half.of_gain(right.curves)
            for start in range(0, len(left.on), rows):
                yield left.part(start, start + rows), right, tail

    def _pairs(self, fixed: dict[str, bool], most_right: int) -> Iterator[tuple[_Table, _Table]]:
        """Yield pairs of tables that hold every state once."""
        for paths in self._paths(fixed, alike=True):
            yield from paths.crossings(most_right)

    def _paths(self, fixed: dict[str, bool], *, alike: bool) -> Iterator[_Paths]:
        """Yield graphs that hold every state once; split where too many runs are open."""
        try:
            yield _Paths(self, fixed, alike)
        except TooManyRuns:
            name = next(multiplying(self.board.chain, fixed))
            yield from self._paths(fixed | {name: False}, alike=alike)
            yield from self._paths(fixed | {name: True}, alike=alike)

    def _solve(self, left: _Table, right: _Table, tail: Half) -> StateBlock:
        if not hasattr(self._memory, "scratch"):
            self._memory.scratch = Scratch()
        scratch: Scratch = self._memory.scratch
        sums = scratch.room("sums", (left.measures.shape[1], len(left.on), len(right.on)), float)
        with np.errstate(all="ignore"):
            np.add(left.measures.T[:, :, None], right.measures.T[:, None, :], out=sums)
            measured = self.measures.heard(sums.reshape(len(sums), -1))
            on = (left.on[:, None] | right.on[None, :]).ravel()
            head = Half.of_gain(left.curves)
            return solve_block(on, measured, head, tail, self._refiner, scratch)


class _Paths:
    """The segments of a board as a graph, and the cut through it."""

    def __init__(self, every: EveryState, fixed: Mapping[str, bool], alike: bool) -> None:
        self.every = every
        self.columns = Measures(every.measures.columns)
        walk = Walk(
            every.board,
            np.concatenate((GRID, self.columns.frequency)),
            self.columns.frequency if self.columns.follow_ideal else None,
            fixed,
            most_rows=_MOST_RUNS,
            reference=self.columns.reference or "ideal",
            alike=alike,
        )
        self.into: list[tuple[np.ndarray, _Table]] = [(np.zeros(0, int), self._nothing(0))]
        self.into += [(arrival.starts, self._table(arrival)) for arrival in walk.arrivals()]
        self.offset = self.columns.offsets(every.board)

    def crossings(self, most_right: int) -> Iterator[tuple[_Table, _Table]]:
        """Yield pairs of tables: the paths up to a vertex, and all that can follow it.

        Parameters
        ----------
        most_right : how many rows a right table has at most, single segments apart
        """
        cut = self._cut(most_right)
        left = self._left(cut)
        right = self._right(cut)
        for vertex in range(cut + 1):
            for tail in self._tails(vertex, right, cut + 1, most_right):
                yield left[vertex], tail

    def extremes(self) -> tuple[FloatArray, FloatArray]:
        """Return the least and the largest gain [dB] of all paths at each point of `GRID`."""
        low, high = [np.zeros(GRID.size)], [np.zeros(GRID.size)]
        for starts, edges in self.into[1:]:
            low.append(np.min([low[s] + c for s, c in zip(starts, edges.curves, strict=True)], 0))
            high.append(np.max([high[s] + c for s, c in zip(starts, edges.curves, strict=True)], 0))
        return low[-1], high[-1]

    def _left(self, cut: int) -> list[_Table]:
        """Return the sums of all paths from the instrument to each vertex up to the cut."""
        start = self._nothing(1)
        tables = [start._replace(measures=start.measures + self.offset)]
        for starts, edges in self.into[1 : cut + 1]:
            parts = [
                tables[begin].plus(edges.some(np.flatnonzero(starts == begin)))
                for begin in np.unique(starts).tolist()
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

    def _tails(
        self, vertex: int, right: Mapping[int, _Table], first: int, rows: int = BLOCK_ROWS
    ) -> Iterator[_Table]:
        """Yield what can follow a vertex by edges to vertices from `first` on, in chunks."""
        parts: list[_Table] = []
        waiting = 0
        for target in range(max(first, vertex + 1), len(self.into)):
            starts, edges = self.into[target]
            leaving = np.flatnonzero(starts == vertex)
            step = max(1, rows // max(len(right[target].on), 1))
            for begin in range(0, leaving.size, step):
                parts.append(edges.some(leaving[begin : begin + step]).plus(right[target]))
                waiting += len(parts[-1].on)
                if waiting >= rows:
                    yield _stacked(parts)
                    parts, waiting = [], 0
        if parts:
            yield _stacked(parts)

    def _cut(self, most_right: int) -> int:
        """Return the first vertex after which few enough paths remain for one block."""
        after = [0] * len(self.into)
        after[-1] = 1
        for target in range(len(self.into) - 1, 0, -1):
            for start in self.into[target][0].tolist():
                after[start] += after[target]
        # All paths that are open behind a vertex end in one of those that start at or before it,
        # so that the largest count of a start bounds every block.
        for vertex in range(len(self.into) - 1):
            if after[vertex] <= most_right:
                return vertex
        return len(self.into) - 2

    def _table(self, arrival: Arrival) -> _Table:
        bit = self.every.bit
        own = bit[arrival.switch] if arrival.switch is not None else 0
        on = [own | sum(bit[name] for name in names_along(trail)) for trail in arrival.trails]
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


def _stacked(tables: Sequence[_Table]) -> _Table:
    return _Table(*(np.concatenate(columns) for columns in zip(*tables, strict=True)))
