"""Histograms of states, of all of them and of those with each switch on, each state met once."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from threading import Lock
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sigsim.physics.arrays import FloatArray
    from sigsim.states.graph import Index
    from sigsim.states.labels import Label

# Ways of one side that are alike in so many switches make one row of a histogram.
_MOST_CLASSES: Final = 64
# Weights are counted in parts of so many bits, so that their sums are exact as floating numbers.
_PART_BITS: Final = 26


@dataclass(frozen=True)
class _Group:
    """Some switches of one side.

    Attributes
    ----------
    of : the class of each way, shape (ways,)
    places : of what is counted in a label
    counts : of each class, shape (places, classes)
    """

    of: Index
    places: Index
    counts: Index


class Classes:
    """The ways of one side, by what is on in them.

    Parameters
    ----------
    labels : counts, see `labels.Counts`

    Attributes
    ----------
    groups : of switches
    parts : of the weights, each with its power of two; None for all ones
    """

    def __init__(self, labels: Label) -> None:
        self.labels = labels
        self.groups = tuple(self._groups())
        weights = labels[:, 0]
        self.parts: tuple[tuple[int, FloatArray | None], ...] = ((0, None),)
        if (weights != 1).any():
            shifts = range(0, int(weights.max()).bit_length(), _PART_BITS)
            mask = (1 << _PART_BITS) - 1
            self.parts = tuple((s, (weights >> s & mask).astype(float)) for s in shifts)

    def _groups(self) -> Iterator[_Group]:
        weight = np.unique(self.labels[:, 0], return_inverse=True)[1].ravel()
        now, places = weight, [0]
        for place in np.flatnonzero(self.labels.any(axis=0))[1:].tolist():
            values, own = np.unique(self.labels[:, place], return_inverse=True)
            more = self._with(now, own, values.size)
            if len(places) > 1 and more.max() >= _MOST_CLASSES:
                yield self._group(now, places)
                more, places = self._with(weight, own, values.size), []
            now = more
            places.append(place)
        yield self._group(now, places)

    @staticmethod
    def _with(now: Index, own: Index, size: int) -> Index:
        found: Index = np.unique(now * size + own.ravel(), return_inverse=True)[1].ravel()
        return found

    def _group(self, classes: Index, places: list[int]) -> _Group:
        first = np.unique(classes, return_index=True)[1]
        return _Group(classes, np.array(places), self.labels[first][:, places].T)


class Tally:
    """Histograms of the states of rows and columns.

    Parameters
    ----------
    rows, columns : the ways of both sides
    bins : of a histogram
    """

    def __init__(self, rows: Classes, columns: Classes, bins: int) -> None:
        self.sides, self.bins = ((rows, columns), (columns, rows)), bins
        self._lock = Lock()
        self._found = [
            np.zeros(bins * group.counts.shape[1], np.int64)
            for side, _ in self.sides
            for group in side.groups
        ]

    def add(self, bins: Index, rows: Index, columns: Index) -> None:
        """Count some states, from any thread.

        Parameters
        ----------
        bins : of each state
        rows, columns : where its halves are; these broadcast to the shape of `bins`
        """
        found = []
        for side, at, other, across in self._both(rows, columns):
            weights = [
                (shift, part if part is None else np.broadcast_to(part[across], bins.shape).ravel())
                for shift, part in other.parts
            ]
            for group in side.groups:
                key = (group.of[at] * self.bins + bins).ravel()
                size = group.counts.shape[1] * self.bins
                found.append(sum(_counted(key, size, part) << shift for shift, part in weights))
        with self._lock:
            for total, more in zip(self._found, found, strict=True):
                total += more

    def _both(
        self, rows: Index, columns: Index
    ) -> tuple[tuple[Classes, Index, Classes, Index], ...]:
        (one, other), _ = self.sides
        return (one, rows, other, columns), (other, columns, one, rows)

    def result(self) -> Index:
        """Return how many states are in each bin, then in how many of these each switch is on.

        Returns
        -------
        shape (1 + switches, bins)
        """
        total = np.zeros((self.sides[0][0].labels.shape[1], self.bins), np.int64)
        found = iter(self._found)
        for number, (side, _) in enumerate(self.sides):
            for group in side.groups:
                counts = group.counts @ next(found).reshape(-1, self.bins)
                # Each state is counted once from the rows, and not from the columns again.
                own = group.places > 0 if number else group.places >= 0
                total[group.places[own]] += counts[own]
        return total


def _counted(key: Index, size: int, weights: FloatArray | None) -> NDArray[np.int64]:
    found = np.bincount(key, weights, minlength=size)
    return found.astype(np.int64, copy=False)
