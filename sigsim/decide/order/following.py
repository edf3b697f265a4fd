"""What can follow a beginning, by the boxes that are left."""

from __future__ import annotations

from functools import cached_property, lru_cache
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

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
        # Which elements can pass, as bits.
        alone = 1 << np.arange(runs.size)
        self.passing = int(alone[(runs.high[:, alone] > -np.inf).any(axis=(0, 2))].sum())
        self._inputs: dict[int, Index] = {}
        self._whole: FloatArray = np.empty(0)

    def inputs(self, taken: int) -> Index:
        """Return the kinds of input that can be met behind some boxes."""
        if taken not in self._inputs:
            self._inputs[taken] = np.flatnonzero(taken >> self._owner & 1 == 0)
        return self._inputs[taken]

    def met(self, output: int, left: Index, inputs: Index) -> FloatArray:
        """Return what an output scores with sets that pass and inputs that follow.

        The last of the inputs follows the last of the sets alone: it is met when nothing is left.
        """
        found: FloatArray = self.table[output][left[:, None], inputs]
        found[:-1, -1] = -np.inf
        return found

    def least(self, taken: int, worst: FloatArray) -> FloatArray:
        """Return what beginnings score at least, in states that no order of the rest avoids.

        Parameters
        ----------
        taken : the boxes that stand in them
        worst : see `Layers`
        """
        runs = self.runs
        inputs, left = self.inputs(taken), ~taken & (runs.sets - 1)
        sets = subsets(left)
        first: dict[int, FloatArray] = {}
        for way in runs.ways:
            if not left >> way.element & 1:
                continue
            own = worst[..., np.searchsorted(inputs, way.input)]
            rest = left & ~sets & ~(1 << way.element)
            if way.whole:
                own = (own + self.beside[:, way.input, None]).max(axis=1)
                value = own + (self._ahead[rest, way.output, runs.kind[way.output]] + way.base)
            else:
                value = (own + self._ahead[rest, way.output].T).max(axis=1) + way.base
            known = first.get(way.element)
            first[way.element] = value if known is None else np.maximum(value, known)
        # There is no such state where something in the set cannot pass.
        first = {one: np.where(v > -np.inf, v, np.inf) for one, v in first.items()}
        stops = [value for one, value in first.items() if not self.passing >> one & 1]
        if stops:
            before = np.minimum.reduce(stops)
            found: FloatArray = before.min(axis=1)
        else:
            found = (worst[:, :, -1, -1] + self.beside[:, -1]).max(axis=1)
        for element, value in first.items():
            without = sets >> element & 1 == 0
            if stops:
                value = np.minimum(value, before)
            np.maximum(found, value[:, without].min(axis=1), out=found)
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
        found = limit - self._behind[rest, inputs].transpose(2, 0, 1)
        found[:, :-1, -1] = np.inf
        return np.where(found == np.inf, -np.inf, found)

    def _by_size(self) -> Iterator[tuple[int, Index, Index]]:
        """Yield all sets, the small ones first, the sets in them that can pass, and from what."""
        numbers = range(self.runs.sets)
        source = np.array(self.runs.source)
        for left in sorted(numbers, key=int.bit_count):
            self.tick()
            # Behind an output its own element is not left.
            outputs = np.flatnonzero((source < 0) | (left >> source.clip(0) & 1 == 0))
            yield left, subsets(left & self.passing), outputs

    @cached_property
    def _behind(self) -> FloatArray:
        """What can come from an input on at most, shape (sets that are left, inputs, kinds)."""
        runs = self.runs
        table, beside = runs.high.transpose(1, 2, 0).copy(), runs.high_reference
        kinds, inputs = beside.shape
        found = np.full((runs.sets, inputs, kinds), -np.inf)
        found[:, -1] = beside[:, -1]
        for left, sets, outputs in self._by_size():
            own = np.flatnonzero(left >> self._owner & 1)
            score = np.full((kinds, len(runs.high)), -np.inf)
            score[:, outputs] = table[left, -1, outputs] + beside[:, -1, None]
            if own.size:
                rest = left & ~sets[:, None] & ~(1 << self._owner[own])
                behind = found[rest, own].reshape(-1, kinds)
                met = table[sets[:, None], own].reshape(len(behind), -1)[:, outputs]
                for kind in range(kinds):
                    most = (met + behind[:, kind, None]).max(axis=0)
                    score[kind, outputs] = np.maximum(score[kind, outputs], most)
            for way in runs.ways:
                if left >> way.element & 1:
                    continue
                here = found[left, way.input]
                if way.whole:
                    value = score[runs.kind[way.output], way.output] + beside[:, way.input]
                else:
                    value = score[:, way.output]
                np.maximum(here, value + way.base, out=here)
        self._whole = score
        return found

    def most(self) -> float:
        """Return what no order scores more than [nepers]."""
        runs = self.runs
        _ = self._behind  # ends with the set of all, behind the start
        return max(float(self._whole[runs.kind[o], o]) + base for o, base in runs.starts)

    @cached_property
    def _ahead(self) -> FloatArray:
        """What comes behind an output at least, shape (sets that are left, outputs, kinds).

        That is the worst of some states: those in which the first that is on is a certain box, or
        one that cannot pass, and the rest is as bad as it then has to be.
        """
        runs, beside = self.runs, self.beside
        table = self.table.transpose(1, 2, 0).copy()
        kinds = len(beside)
        found = np.full((runs.sets, len(self.table), kinds), -np.inf)
        ways = sorted(runs.ways, key=lambda way: way.element)
        element = np.array([way.element for way in ways], np.int64)
        input_, output = (
            np.array(c) for c in zip(*((w.input, w.output) for w in ways), strict=True)
        )
        whole, base = (np.array(c) for c in zip(*((w.whole, w.base) for w in ways), strict=True))
        for left, sets, outputs in self._by_size():
            own = np.flatnonzero(left >> element & 1)
            if not own.size:
                found[left, outputs] = table[left, -1, outputs, None] + beside[:, -1]
                continue
            rest = left & ~sets[:, None] & ~(1 << element[own])
            behind = found[rest, output[own]]
            cut = behind[..., np.arange(own.size)[:, None], runs.kind[output[own], None]]
            cut = cut + beside[:, input_[own]].T
            behind = np.where(whole[own, None], cut, behind) + base[own, None]
            met = table[sets[:, None], input_[own]][..., outputs]
            starts = np.flatnonzero(np.append(True, np.diff(element[own]) > 0))
            firsts = element[own][starts]
            for kind in range(kinds):
                value = np.maximum.reduceat(met + behind[..., kind, None], starts, axis=1)
                found[left, outputs, kind] = self._policies(
                    np.where(value > -np.inf, value, np.inf), firsts, sets,
                    table[left, -1, outputs] + beside[kind, -1],
                )  # fmt: skip
        return found

    def _policies(
        self, value: FloatArray, firsts: Index, sets: Index, none: FloatArray
    ) -> FloatArray:
        """Return the worst of what no order avoids, shape (outputs,).

        Parameters
        ----------
        value : by the set that passes and what comes first then, shape (sets, elements, outputs)
        firsts : these elements
        sets : as bits
        none : what is scored where all pass, if they can
        """
        stops = self.passing >> firsts & 1 == 0
        if not stops.any():
            worst: FloatArray = np.maximum(value.min(axis=0).max(axis=0), none)
            return worst
        before = value[:, stops].min(axis=1)
        found: FloatArray = before.min(axis=0)
        for number, element in enumerate(firsts.tolist()):
            own = np.minimum(value[:, number], before)[sets >> element & 1 == 0]
            np.maximum(found, own.min(axis=0), out=found)
        return found
