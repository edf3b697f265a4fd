"""Histograms of states, of all of them and of those with each switch on, each state met twice."""

from __future__ import annotations

from dataclasses import dataclass
from threading import Lock
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sigsim.physics.arrays import FloatArray
    from sigsim.states.binned import Bins
    from sigsim.states.graph import Index
    from sigsim.states.labels import Label

# Up to here whole numbers are exact as floating ones.
_EXACT: Final = 1 << 53
# States counted at once: they stay in a core's second-level cache.
_BLOCK: Final = 1 << 15
# A histogram for each way pays where its bins are no more than so many times what is counted.
_MOST_BINS: Final = 16


@dataclass(frozen=True)
class _Side:
    """The ways of one side.

    Attributes
    ----------
    places : of what is counted in their labels
    counts : of each way, shape (places, ways)
    weights : how many states each way stands for, None for one each
    """

    places: Index
    counts: NDArray[np.int64]
    weights: NDArray[np.int64] | None


class Tally:
    """Histograms of the states of rows and columns.

    A way's label tells how many states it stands for, then in how many of these each switch is on.

    Parameters
    ----------
    rows, columns : labels of both sides, see `labels.Counts`
    bins : of a histogram
    """

    def __init__(self, rows: Label, columns: Label, bins: int) -> None:
        self.bins = bins
        self.exact = int(rows[:, 0].sum()) * int(columns[:, 0].sum()) < _EXACT
        self._sides = _side(rows, first=0), _side(columns, first=1)
        self._total = np.zeros((rows.shape[1], bins), np.int64)
        self._lock = Lock()

    def add(self, bins: Index, rows: Index, columns: Index) -> None:
        """Count some states, from any thread.

        Parameters
        ----------
        bins : of each state, shape (states,)
        rows, columns : which halves it has, shape (states,)
        """
        self._add(0, bins, rows, columns)
        self._add(1, bins, columns, rows)

    def add_block(self, number: int, bins: Bins, shift: int, start: int) -> None:
        """Count what some ways of one side give with all of the other, from any thread.

        All has to be counted from both sides.

        Parameters
        ----------
        number : of the side, 0 for rows
        bins : of the states, shape (ways, ways of the other side)
        shift : by how many bits these are shifted to be those of the histogram
        start : which is the first one of the ways
        """
        ways, others = bins.shape
        if not self.exact or self.bins > _MOST_BINS * others:
            at = np.repeat(np.arange(start, start + ways), others)
            across = np.tile(np.arange(others), ways)
            self._add(number, (bins.ravel() >> shift).astype(np.int64), at, across)
            return
        side, weights = self._sides[number], self._sides[1 - number].weights
        total = np.zeros((side.places.size, self.bins))
        step = max(1, _BLOCK // others)
        memory = np.empty((step, others), np.int64)
        for first in range(0, ways, step):
            some = bins[first : first + step]
            keys = np.right_shift(some, shift, out=memory[: len(some)])
            keys += np.arange(0, len(keys) * self.bins, self.bins)[:, None]
            spread = None if weights is None else np.broadcast_to(weights, keys.shape).ravel()
            found = np.bincount(keys.ravel(), spread, minlength=len(keys) * self.bins)
            counts = side.counts[:, start + first : start + first + len(keys)]
            total += counts.astype(float) @ found.reshape(-1, self.bins).astype(float)
        self._put(side, total)

    def _add(self, number: int, bins: Index, at: Index, across: Index) -> None:
        side, weights = self._sides[number], self._sides[1 - number].weights
        found = np.zeros((side.places.size, self.bins), np.int64)
        for own, counts in zip(found, side.counts, strict=True):
            states = counts[at] if weights is None else counts[at] * weights[across]
            if self.exact:
                own += np.bincount(bins, states, minlength=self.bins).astype(np.int64)
            else:
                np.add.at(own, bins, states)
        self._put(side, found)

    def _put(self, side: _Side, found: Index | FloatArray) -> None:
        with self._lock:
            self._total[side.places] += found.astype(np.int64)

    def result(self) -> Index:
        """Return how many states are in each bin, then in how many of these each switch is on.

        Returns
        -------
        shape (1 + switches, bins)
        """
        return self._total


def _side(labels: Label, first: int) -> _Side:
    """Return a side, of which the places from the first one on are counted."""
    places = np.flatnonzero(labels.any(axis=0))
    places = places[places >= first]
    weights = labels[:, 0]
    every = np.ascontiguousarray(labels[:, places].T)
    return _Side(places, every, weights if (weights != 1).any() else None)
