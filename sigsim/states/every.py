"""Every state of a board, streamed in blocks with all its numbers.

A state is a row from before a cut and a column from behind it (`halves`). Where many rows are alike
but for their size, as all behind one isolator are, a state is a product of two numbers at each
frequency; else it is a sum of four (`forms`). Blocks of some thousand states fit the cache.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from functools import cached_property
from threading import local
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.states.blocks import StateBlock, solve_block
from sigsim.states.board_graph import board_graph
from sigsim.states.directions import directions, sizes
from sigsim.states.forms import GRID, LEVEL_POINT, Half, Scratch, left_forms, right_forms
from sigsim.states.halves import Halves, gains
from sigsim.states.labels import Bits
from sigsim.states.levels import Levelled
from sigsim.states.measure import Measure, weights_over
from sigsim.states.measured import Measured, Sums
from sigsim.states.refined import Refiner
from sigsim.states.rows import NEPER_DB

if TYPE_CHECKING:
    from typing import TypeAlias

    from sigsim.board.model import Board
    from sigsim.metrics import Reference
    from sigsim.physics.arrays import ComplexArray, FloatArray
    from sigsim.states.blocks import Bits as Bits64
    from sigsim.states.graph import Index
    from sigsim.states.halves import Table

    Task: TypeAlias = Callable[[], StateBlock]

# Columns of a table: of rows that are alike, and of others.
_COLUMNS: Final = (1024, 256)
# States in one block: enough that the calls for it do not count, and few for the cache.
_BLOCK: Final = 1 << 14
MOST_SWITCHES: Final = 24
WORD: Final = 63
_LEAST: Final = 1e-300
# Nepers and decibels of a factor of two.
_BIT_NEPER: Final = float(np.log(2))
_BIT_DB: Final = NEPER_DB * _BIT_NEPER


class EveryState:
    """All states of a board, some things held on or off.

    Parameters
    ----------
    board : the board
    measures : what to tell besides corner and resonance
    fixed : things held on or off; what varies makes at most 2^`MOST_SWITCHES` states, and at most
        `WORD` things may vary or be held on
    """

    def __init__(
        self, board: Board, measures: Sequence[Measure], fixed: Mapping[str, bool] | None = None
    ) -> None:
        self.board, self.measures = board, Levelled(measures)
        self.fixed = dict(fixed or {})
        names = [name for name in board.switches() if self.fixed.get(name) is not False]
        self.bit = {name: 1 << place for place, name in enumerate(names)}
        self._memory = local()
        self._refiner = Refiner(board, self.bit, self.fixed)
        self._offsets = np.array([m.offset(board) for m in self.measures.columns])

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
                for task in self._tasks():
                    waiting.append(pool.submit(task))
                    if len(waiting) > 2 * workers:
                        yield waiting.popleft().result()
                while waiting:
                    yield waiting.popleft().result()
            finally:
                for future in waiting:
                    future.cancel()

    def curves(self) -> tuple[FloatArray, FloatArray]:
        """Return the gain of every state on `GRID` [dB], and its measures [dB].

        Returns
        -------
        shapes (states, grid) and (measures, states): of a few thousand states at most
        """
        gain, sums = [], []
        with np.errstate(all="ignore"):
            for rows, columns in self._halves.pairs():
                found = gains(rows, columns)
                found = found.reshape(-1, found.shape[-1])
                gain.append(found[:, : GRID.size])
                sums.append(-found[:, GRID.size :] @ (self.weights / NEPER_DB) + self.offsets)
            measured, _ = self.measures.heard(np.concatenate(sums).T)
        return np.concatenate(gain), measured

    def _tasks(self) -> Iterator[Task]:
        """Yield what makes each block."""
        before: Table | None = None
        with np.errstate(all="ignore"):
            for rows, columns in self._halves.pairs(_COLUMNS[0]):
                if rows is not before:
                    groups, alone = directions(rows)
                    tables = [_Alike(self, _in_order(rows.some(group))) for group in groups]
                    others = _Others(self, _in_order(rows.some(alone)))
                    before = rows
                for table in tables:
                    yield from table.tasks(columns)
                yield from others.tasks(columns)

    @cached_property
    def _halves(self) -> Halves:
        frequency, reference = self._frequency
        graph = board_graph(
            self.board,
            np.concatenate((GRID, frequency)),
            None if reference is None else frequency,
            self.fixed,
            reference or "ideal",
            silent=True,
        )
        return Halves(graph, Bits(tuple(self.bit), self.fixed))

    @cached_property
    def _frequency(self) -> tuple[FloatArray, Reference | None]:
        """Where the measures are taken [Hz], and which reference is followed there."""
        columns = self.measures.columns
        frequency = np.unique(np.concatenate([m.frequency for m in columns]))
        followed = {m.reference for m in columns} - {None, "direct"}
        return frequency, followed.pop() if followed else None

    @cached_property
    def weights(self) -> FloatArray:
        """What the logarithms of 1/|H| behind those on `GRID` count in each measure [dB]."""
        frequency, reference = self._frequency
        size = frequency.size * (1 if reference is None else 2)
        columns = [weights_over(m, frequency, size) for m in self.measures.columns]
        return NEPER_DB * np.stack(columns, axis=1)

    def solve(self, on: Bits64, sums: FloatArray, left: Half, right: Half) -> StateBlock:
        """Return a block of states.

        Parameters
        ----------
        on : what is on as bits, shape (rows, columns)
        sums : of all measures, shape (measures, rows, columns) [dB]
        left, right : the halves
        """
        measured = self.measures.heard(sums.reshape(len(sums), -1))
        return solve_block(on.ravel(), measured, left, right, self._refiner, self.scratch())

    def scratch(self) -> Scratch:
        """Return the memory of this thread."""
        if not hasattr(self._memory, "scratch"):
            self._memory.scratch = Scratch()
        scratch: Scratch = self._memory.scratch
        return scratch

    @cached_property
    def sums(self) -> Sums:
        """How the measures follow from |H|² behind `GRID`."""
        return Sums(self.weights, self.offsets)

    @property
    def offsets(self) -> FloatArray:
        """What the whole chain adds to each measure [dB]."""
        return self._offsets


class _Alike:
    """Rows that are alike but for their size.

    Parameters
    ----------
    every : the states
    rows : of one direction
    """

    def __init__(self, every: EveryState, rows: Table) -> None:
        self.every, self.rows = every, rows
        size = sizes(rows.p, rows.q)
        scale = rows.scale - rows.scale[0]
        size /= size[0]
        self.power, self.level = _powers(size, scale)
        taken = np.log(size) + _BIT_NEPER * scale
        sums = taken[:, GRID.size :] @ every.weights + every.offsets
        self.sums = np.ascontiguousarray(sums.T)[:, :, None]

    def tasks(self, columns: Table) -> Iterator[Task]:
        """Yield what makes the blocks of all rows with some columns."""
        first = self.rows.some(slice(1))
        H = np.abs(first.p * columns.p + first.q * columns.q)
        scale = first.scale + columns.scale
        right = Half(*_powers(H, scale))
        taken = np.log(np.maximum(H, _LEAST)) + _BIT_NEPER * scale
        sums = np.ascontiguousarray((taken[:, GRID.size :] @ self.every.weights).T)[:, None]
        step = max(1, _BLOCK // len(columns.p))
        for start in range(0, len(self.rows.p), step):
            part = slice(start, start + step)

            def task(part: slice = part) -> StateBlock:
                with np.errstate(all="ignore"):
                    left = Half(self.power[part], self.level[part])
                    on = np.bitwise_or(self.rows.labels[part, None], columns.labels)
                    both = self.every.scratch().room("sums", (len(sums), *on.shape), float)
                    np.add(self.sums[:, part], sums, out=both)
                    return self.every.solve(on, both, left, right)

            yield task


class _Others:
    """Rows of many directions.

    Parameters
    ----------
    every : the states
    rows : of one node
    """

    def __init__(self, every: EveryState, rows: Table) -> None:
        self.every, self.rows = every, rows

    def tasks(self, columns: Table) -> Iterator[Task]:
        """Yield what makes the blocks of all rows with some columns."""
        for start in range(0, len(columns.p), _COLUMNS[1]):
            some = columns.some(slice(start, start + _COLUMNS[1]))
            right = Half(*_formed(some, right_forms))
            measured = Measured(some, right_forms, GRID.size)
            step = max(1, _BLOCK // len(some.p))
            for begin in range(0, len(self.rows.p), step):
                rows = self.rows.some(slice(begin, begin + step))

                def task(
                    rows: Table = rows,
                    some: Table = some,
                    right: Half = right,
                    measured: Measured = measured,
                ) -> StateBlock:
                    with np.errstate(all="ignore"):
                        left = Half(*_formed(rows, left_forms))
                        on = np.bitwise_or(rows.labels[:, None], some.labels)
                        before = Measured(rows, left_forms, GRID.size)
                        sums = self.every.sums.of(before, measured, self.every.scratch())
                        return self.every.solve(on, sums, left, right)

                yield task


def _in_order(rows: Table) -> Table:
    """Return rows so that what is nearest to the instrument changes least often.

    That shapes the curve most: states in one block then look alike and are searched in one place.
    """
    bits = np.unpackbits(rows.labels.view(np.uint8), bitorder="little").reshape(-1, WORD + 1)
    return rows.some(np.lexsort(bits.T[::-1]))


def _gain(powers: Index) -> FloatArray:
    """Return what powers of two are as gains [dB], shape (rows,), from shape (rows, 1)."""
    return np.multiply(powers[:, 0], -_BIT_DB, dtype=float)


def _powers(H: FloatArray, scale: Index) -> tuple[FloatArray, FloatArray]:
    """Return |H|² on `GRID` as forms of rank 1, and the gain that is not in them [dB]."""
    at_level = scale[:, LEVEL_POINT, None]
    power = np.ldexp(H[:, : GRID.size] ** 2, 2 * (scale[:, : GRID.size] - at_level))
    return power[:, None], _gain(at_level)


def _formed(
    table: Table, forms: Callable[[ComplexArray, ComplexArray], FloatArray]
) -> tuple[FloatArray, FloatArray]:
    """Return the forms of rows or columns on `GRID`, and the gain that is not in them [dB]."""
    at_level = table.scale[:, LEVEL_POINT, None]
    factor = np.ldexp(1.0, table.scale[:, : GRID.size] - at_level)
    p, q = table.p[:, : GRID.size] * factor, table.q[:, : GRID.size] * factor
    level: FloatArray = _gain(at_level)
    return forms(p, q), level
