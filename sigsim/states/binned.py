"""All states of a board in narrow bins of a key, task by task on all cores."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from threading import local
from typing import TYPE_CHECKING, Final, NamedTuple, TypeAlias, TypeVar

import numpy as np

from sigsim.states.tally import Tally

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sigsim.physics.arrays import FloatArray
    from sigsim.states.graph import Index
    from sigsim.states.keys import Product

    Bins: TypeAlias = NDArray[np.uint16]

Progress: TypeAlias = Callable[[int], None]
_Found = TypeVar("_Found")

_WORKERS: Final = 2
# States of which keys are formed at once: they stay in a core's second-level cache.
_BLOCK: Final = 1 << 15
_APART: Final = 32
# States of one task.
_TASK: Final = 1 << 18
# Bins are 16-bit numbers, the last group of them left for what is silent; groups are counted first.
_BINS: Final = (1 << 16) - 32
GROUP_BITS: Final = 5
GROUP: Final = 1 << GROUP_BITS
# Up to so many states are in one bin.
_FEW: Final = 1 << 11
# Rows and columns of each product that tell where the bins have to be.
_SAMPLE: Final = 64
_INFINITE: Final = int(np.array(np.inf).view(np.int64))


class Window(NamedTuple):
    """Bins of equal size over the bits of keys; those of positive numbers are in their order."""

    base: int
    shift: int
    size: int

    @classmethod
    def over(cls, low: int, high: int) -> Window:
        """Return bins from one key to another, as bits; in the first and last is what is beyond."""
        shift = max(0, (high - low).bit_length() - 16)
        while (high - low) >> shift >= _BINS - 2:
            shift += 1
        return cls(max(0, low - (1 << shift)), shift, _BINS)

    def bins(self, keys: FloatArray) -> Bins:
        """Return the bins of keys, which are lost; that behind the last one for no number."""
        silent = np.isnan(keys) if np.isnan(keys.sum()) else None
        ends = np.array([self.base, self._edge(self.size) - 1], np.int64).view(float)
        bits = np.clip(keys, *ends, out=keys).view(np.uint64)
        bits -= np.uint64(self.base)
        bits >>= np.uint64(self.shift)
        found = bits.astype(np.uint16)
        if silent is not None:
            found[silent] = self.size
        return found

    def edges(self, place: int) -> tuple[int, int]:
        """Return the keys between which a bin is, as bits."""
        low = self._edge(place) if place else 0
        return low, self._edge(place + 1) if place + 1 < self.size else _INFINITE

    def _edge(self, place: int) -> int:
        return min(self.base + (place << self.shift), _INFINITE)


# One bin for all.
_ONE: Final = Window(0, 62, GROUP)


class Chosen(NamedTuple):
    """Some states of one product.

    Attributes
    ----------
    number : of the product
    rows, columns : which halves each has
    bins : where each is
    """

    number: int
    rows: Index
    columns: Index
    bins: Index


class Binned:
    """All states of a board as products of tables.

    Parameters
    ----------
    products : the tables
    """

    def __init__(self, products: Sequence[Product]) -> None:
        self.products = products
        self._own = local()

    def window(self) -> Window:
        """Return bins between what few states are beyond."""
        if sum(math.prod(one.shape) for one in self.products) <= _FEW:
            return _ONE
        keys = np.concatenate([_some_keys(one) for one in self.products])
        keys = np.sort(keys[np.isfinite(keys)])
        if not keys.size:
            return _ONE
        beyond = keys.size // 200
        ends = keys[[0, beyond, -1 - beyond, -1]].view(np.int64).tolist()
        least, low, high, largest = ends
        return Window.over(max(least, 2 * low - high), min(largest, 2 * high - low))

    def binned(self, window: Window, progress: Progress | None = None) -> tuple[list[Bins], Index]:
        """Return the bin of every state, and how many are in each group of bins."""
        # Rows that are not a power of two apart do not share a few lines of the cache.
        bins: list[Bins] = [
            np.empty((rows, columns + _APART), np.uint16)[:, :columns]
            for rows, columns in (one.shape for one in self.products)
        ]
        tallies = self.tallies((window.size >> GROUP_BITS) + 1)

        def task(number: int, rows: slice) -> int:
            one, found = self.products[number], bins[number]
            step = max(1, _BLOCK // one.shape[1])
            memory = self._room(4 * step * one.shape[1]).reshape(4, step, -1)
            for start in range(rows.start, rows.stop, step):
                part = slice(start, min(start + step, rows.stop))
                found[part] = window.bins(one.keys(part, memory))
            tallies[number].add_block(0, found[rows], GROUP_BITS, rows.start)
            left, right = one.labels
            return int(left[rows, 0].sum()) * int(right[:, 0].sum())

        def again(number: int, columns: slice) -> None:
            part = np.ascontiguousarray(bins[number][:, columns].T)
            tallies[number].add_block(1, part, GROUP_BITS, columns.start)

        for done in _in_turns(task, self._tasks(0)):
            if progress is not None:
                progress(done)
        for _ in _in_turns(again, self._tasks(1)):
            pass
        counts: Index = np.sum([tally.result() for tally in tallies], axis=0)
        return bins, counts

    def _room(self, size: int) -> FloatArray:
        """Return memory of the thread that asks: what is new costs more than what is done in it."""
        room: FloatArray | None = getattr(self._own, "room", None)
        if room is None or room.size < size:
            room = self._own.room = np.empty(size)
        return room[:size]

    def tallies(self, bins: int) -> list[Tally]:
        """Return empty histograms for all products."""
        return [Tally(*one.labels, bins) for one in self.products]

    def chosen(
        self, bins: Sequence[Bins], window: Window, wanted: Iterable[int]
    ) -> Iterator[Chosen]:
        """Yield the states in some bins, task by task."""
        table = np.zeros(window.size + 1, np.bool_)
        table[list(wanted)] = True

        def task(number: int, rows: slice) -> Chosen:
            part = bins[number][rows]
            found = np.flatnonzero(table.take(part))
            row, column = np.divmod(found, part.shape[1])
            own = part[row, column].astype(np.int64)
            return Chosen(number, row + rows.start, column, own)

        return _in_turns(task, self._tasks(0))

    def _tasks(self, side: int) -> list[tuple[int, slice]]:
        """Return parts of the rows, or of the columns, of all products."""
        tasks = []
        for number, one in enumerate(self.products):
            size, step = one.shape[side], max(1, _TASK // one.shape[1 - side])
            for start in range(0, size, step):
                tasks.append((number, slice(start, min(start + step, size))))
        return tasks


def _some_keys(one: Product) -> FloatArray:
    """Return the keys of states drawn from a product, always the same ones."""
    generator = np.random.default_rng(1)
    rows, columns = (generator.permutation(size)[:_SAMPLE] for size in one.shape)
    some = one.some(rows, columns)
    return some.keys(slice(None), np.empty((4, *some.shape))).ravel()


def _in_turns(task: Callable[..., _Found], tasks: Sequence[tuple[int, slice]]) -> Iterator[_Found]:
    """Yield what tasks return, in order; they run at once where there are several."""
    if len(tasks) == 1:
        yield task(*tasks[0])
        return
    with ThreadPoolExecutor(_WORKERS) as pool:
        yield from pool.map(task, *zip(*tasks, strict=True))
