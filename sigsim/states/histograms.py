"""Sums over many ways as counts in bins: a histogram that adds.

Every score is rounded to bins once where a stretch ends, and what the rounding left is followed:
the interval in which it lies at each vertex is that over all ways. So a value read off a histogram
is true within half of the interval at the destination. Counts are floating-point numbers: exact up
to 2^53, above it to about 1e-13 of all.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from sigsim.physics.arrays import FloatArray
    from sigsim.states.arrivals import Arrivals
    from sigsim.states.graph import Index

# From so many bins on a transform is faster than adding them one by one.
_MANY_BINS = 48
# Up to this size, counts that went through a transform are whole once rounded.
_WHOLE = 2.0**44


class Counts(NamedTuple):
    """How many ways there are in each bin.

    Attributes
    ----------
    first : the number of the first bin
    counts : shape (bins,)
    """

    first: int
    counts: FloatArray

    @property
    def end(self) -> int:
        """The number of the bin behind the last one."""
        return self.first + self.counts.size


class Stretches(NamedTuple):
    """Arrivals at a vertex in bins, those that begin alike together.

    Attributes
    ----------
    start : the vertex at which each begins, in order, shape (ways,)
    place : in which bin each is, shape (ways,)
    number : how many states sound like it, shape (ways,)
    on : in how many each of some switches is on, shape (ways, switches)
    """

    start: Index
    place: Index
    number: FloatArray
    on: FloatArray

    def groups(self) -> Iterator[tuple[int, slice]]:
        """Yield each vertex at which some begin, and which these are."""
        firsts = [0, *(np.flatnonzero(self.start[1:] != self.start[:-1]) + 1).tolist()]
        for begin, end in zip(firsts, [*firsts[1:], self.start.size], strict=True):
            yield int(self.start[begin]), slice(begin, end)


def extent(found: Sequence[Arrivals]) -> tuple[int, float]:
    """Return the most stretches in a way, and the ranges at all vertices together [dB]."""
    depth, low, high = [0], [0.0], [0.0]
    for arrived in found:
        start, score = arrived.start, arrived.score
        depth.append(1 + int(np.take(depth, start).max()))
        low.append(float((np.take(low, start) + score).min()))
        high.append(float((np.take(high, start) + score).max()))
    return depth[-1], sum(high) - sum(low)


def binned(found: Sequence[Arrivals], width: float) -> tuple[list[Stretches], float, float]:
    """Return the stretches to each vertex in bins, and what the rounding left.

    Parameters
    ----------
    found : the arrivals at each vertex but the first
    width : of a bin [dB]

    Returns
    -------
    the stretches; the least and the most that a state is above the sum of its bins [dB]
    """
    low, high = np.zeros(len(found) + 1), np.zeros(len(found) + 1)
    stretches = []
    for vertex, arrived in enumerate(found, 1):
        start = arrived.start
        # What was left so far is made up for as far as can be.
        middle = (low[start] + high[start]) / 2
        place = np.rint((arrived.score + middle) / width).astype(np.int64)
        left = arrived.score - place * width
        low[vertex], high[vertex] = (low[start] + left).min(), (high[start] + left).max()
        stretches.append(_gathered(arrived, place))
    return stretches, float(low[-1]), float(high[-1])


def _gathered(arrived: Arrivals, place: Index) -> Stretches:
    """Return stretches of which those in one bin are one."""
    order = np.lexsort((place, arrived.start))
    start, place = arrived.start[order], place[order]
    count, on = arrived.count[order], arrived.on[order]
    new = (np.diff(start, prepend=-1) != 0) | (np.diff(place, prepend=0) != 0)
    firsts = np.flatnonzero(new)
    if firsts.size < start.size:
        count, on = (np.add.reduceat(part, firsts, axis=0) for part in (count, on))
    return Stretches(start[firsts], place[firsts], count, on)


def forward(stretches: Sequence[Stretches]) -> list[Counts]:
    """Return what comes to each vertex, the instrument first."""
    found = [Counts(0, np.ones(1))]
    for some in stretches:
        found.append(arriving(some, some.number, found))
    return found


def arriving(some: Stretches, number: FloatArray, before: Sequence[Counts]) -> Counts:
    """Return what comes to a vertex through stretches that count so much, shape (ways,)."""
    used = number != 0
    some = Stretches(some.start[used], some.place[used], number[used], some.on[:0])
    parts = [(before[start], some.place[ways], some.number[ways]) for start, ways in some.groups()]
    first = min(int(place[0]) + counts.first for counts, place, _ in parts)
    end = max(int(place[-1]) + counts.end for counts, place, _ in parts)
    total = np.zeros(end - first)
    for counts, place, number in parts:
        _add(total, Counts(counts.first - first, counts.counts), place, number)
    return Counts(first, total)


def backward(stretches: Sequence[Stretches]) -> list[Counts]:
    """Return what follows each vertex, the destination last."""
    size = len(stretches) + 1
    leaving: list[list[tuple[int, Index, FloatArray]]] = [[] for _ in range(size)]
    for head, some in enumerate(stretches, 1):
        for start, ways in some.groups():
            leaving[start].append((head, some.place[ways], some.number[ways]))
    found = [Counts(0, np.zeros(1))] * (size - 1) + [Counts(0, np.ones(1))]
    for vertex in range(size - 2, -1, -1):
        parts = leaving[vertex]
        if not parts:
            continue
        first = min(int(place[0]) + found[head].first for head, place, _ in parts)
        end = max(int(place[-1]) + found[head].end for head, place, _ in parts)
        total = np.zeros(end - first)
        for head, place, number in parts:
            counts = found[head]
            _add(total, Counts(counts.first - first, counts.counts), place, number)
        found[vertex] = Counts(first, total)
    return found


def _add(total: FloatArray, counts: Counts, place: Index, number: FloatArray) -> None:
    """Add counts to a total that begins at bin 0, moved to places, so many times at each."""
    size = counts.counts.size
    if place.size < _MANY_BINS:
        for at, times in zip((place + counts.first).tolist(), number.tolist(), strict=True):
            total[at : at + size] += counts.counts if times == 1 else times * counts.counts
        return
    kernel = np.zeros(int(place[-1] - place[0]) + 1)
    kernel[place - place[0]] = number
    at = int(place[0]) + counts.first
    total[at : at + size + kernel.size - 1] += _convolved(counts.counts, kernel)


def _convolved(one: FloatArray, two: FloatArray) -> FloatArray:
    """Return the convolution of counts, none of them negative."""
    if min(one.size, two.size) < _MANY_BINS:
        return np.convolve(one, two)
    size = one.size + two.size - 1
    length = 1 << (size - 1).bit_length()
    length = length * 3 // 4 if length * 3 // 4 >= size else length
    both = np.fft.irfft(np.fft.rfft(one, length) * np.fft.rfft(two, length), length)[:size]
    found: FloatArray = np.maximum(both, 0.0)
    return np.rint(found) if one.sum() * two.sum() < _WHOLE else found


class Meeting:
    """What comes to a vertex with what follows it: how many states have sums up to a bin.

    Parameters
    ----------
    before, behind : the vertex
    """

    def __init__(self, before: Counts, behind: Counts) -> None:
        self.first = before.first + behind.first
        self._counts, self._behind = before.counts, np.cumsum(behind.counts)
        self._turned = self._behind[::-1].copy()
        self._before = np.cumsum(before.counts)

    @property
    def total(self) -> float:
        """How many there are."""
        return float(self._before[-1] * self._behind[-1])

    def up_to(self, place: int) -> float:
        """Return how many are in no bin behind one of them."""
        at, size = place - self.first, self._behind.size
        if at < 0:
            return 0.0
        # Of the first ones all that follows counts, of the others a part.
        whole = min(max(at - size + 1, 0), self._counts.size)
        end = min(at + 1, self._counts.size)
        found = self._before[whole - 1] * self._behind[-1] if whole else 0.0
        if end > whole:
            begin = size - 1 - (at - whole)
            found += self._counts[whole:end] @ self._turned[begin : begin + end - whole]
        return float(found)
