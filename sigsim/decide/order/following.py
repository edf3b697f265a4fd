"""What can follow a beginning, by the boxes that are left."""

from __future__ import annotations

from functools import cached_property, lru_cache
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from sigsim.decide.order.runs import Runs, Way
    from sigsim.physics.arrays import FloatArray
    from sigsim.states.graph import Index


@lru_cache(maxsize=1 << 14)
def subsets(left: int) -> Index:
    """Return all subsets of a set, as bits, in the order of their numbers."""
    found = np.zeros(1, np.int64)
    while left:
        one = left & -left
        found = np.concatenate((found, found | one))
        left ^= one
    return found


class Following:
    """What can follow beginnings.

    Parameters
    ----------
    runs : the bounds
    tick : called now and then

    Attributes
    ----------
    ways : of each element, by their outputs
    """

    def __init__(self, runs: Runs, tick: Callable[[], None]) -> None:
        self.runs, self.tick = runs, tick
        self.table, self.beside = runs.low, runs.low_reference
        self.ways: list[dict[int, list[Way]]] = [{} for _ in range(runs.size)]
        for way in runs.ways:
            self.ways[way.element].setdefault(way.output, []).append(way)
        self._owner = np.array(runs.owner)
        self._inputs: dict[int, Index] = {}

    def inputs(self, taken: int) -> Index:
        """Return the kinds of input that can be met behind some boxes."""
        if taken not in self._inputs:
            self._inputs[taken] = np.flatnonzero(taken >> self._owner & 1 == 0)
        return self._inputs[taken]

    def met(self, output: int, left: Index, inputs: Index) -> FloatArray:
        """Return what an output scores with sets that pass and inputs that follow.

        The last of the inputs follows the last of the sets alone: it is met when nothing is left.
        """
        found = self.table[output][left[:, None], inputs]
        found[:-1, -1] = -np.inf
        return found

    def least(self, taken: int, worst: FloatArray) -> FloatArray:
        """Return what beginnings score at least: with all off that are left, and with one on.

        Parameters
        ----------
        taken : the boxes that stand in them
        worst : see `Layers`
        """
        runs = self.runs
        inputs, left = self.inputs(taken), ~taken & (runs.sets - 1)
        last = self.beside[:, -1]
        found = (worst[:, :, -1, -1] + last).max(axis=1)
        below = 0
        for element in range(runs.size):
            if not left >> element & 1:
                continue
            shape = *worst.shape[:2], -1, 2, 1 << below, inputs.size
            without = worst.reshape(shape)[..., 0, :, :]
            below += 1
            sets = subsets(left & ~(1 << element))
            each = np.full((len(worst), sets.size), -np.inf)
            for output, ways in self.ways[element].items():
                # What is left when some have passed comes the other way round.
                tail = self.table[output, sets[::-1], -1]
                for way in ways:
                    own = without[..., np.searchsorted(inputs, way.input)]
                    own = own.reshape(*worst.shape[:2], -1)
                    if way.whole:
                        met, more = self.beside[:, way.input], last[runs.kind[output]]
                    else:
                        met, more = last, 0.0
                    own = (own + met[:, None]).max(axis=1)
                    np.maximum(each, own + (tail + (way.base + more)), out=each)
            np.maximum(found, each.min(axis=1), out=found)
        return found

    def floor(self, taken: int, limit: float) -> FloatArray:
        """Return up to what beginnings can do no harm any more, shape (kinds, sets, inputs).

        Parameters
        ----------
        taken : the boxes that stand in them
        limit : what may be scored
        """
        left = ~taken & (self.runs.sets - 1)
        inputs = self.inputs(taken)
        sets = subsets(left)
        rest = left & ~sets[:, None] & ~(1 << self._owner[inputs])
        found = limit - self._behind[:, inputs, rest]
        found[:, :-1, -1] = np.inf
        return np.where(found == np.inf, -np.inf, found)

    @cached_property
    def _behind(self) -> FloatArray:
        """What can come from an input on at most, shape (kinds, inputs, sets that are left)."""
        runs = self.runs
        table, beside = runs.high, runs.high_reference
        kinds, inputs = beside.shape
        found = np.full((kinds, inputs, runs.sets), -np.inf)
        found[:, -1] = beside[:, -1, None]
        numbers = np.arange(runs.sets)
        by_size = np.argsort([int(number).bit_count() for number in numbers], kind="stable")
        for left in by_size.tolist():
            self.tick()
            sets = subsets(left)
            own = np.flatnonzero((left >> self._owner & 1 == 1))
            rest = left & ~sets[:, None] & ~(1 << self._owner[own])
            score = table[:, left, -1] + beside[:, -1, None]
            if own.size:
                behind = found[:, own, rest].reshape(kinds, -1)
                met = table[:, sets[:, None], own].reshape(len(table), -1)
                for kind in range(kinds):
                    np.maximum(score[kind], (met + behind[kind]).max(axis=1), out=score[kind])
            for way in runs.ways:
                if left >> way.element & 1:
                    continue
                here = found[:, way.input, left]
                if way.whole:
                    value = score[runs.kind[way.output], way.output] + beside[:, way.input]
                else:
                    value = score[:, way.output]
                np.maximum(here, value + way.base, out=here)
        return found
