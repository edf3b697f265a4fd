"""All orders as beginnings that grow by one box at a time, each known by what can follow it.

A beginning is, for each set of boxes that may pass next and each input that may be met then, the
worst so far. That is all of it that counts for what follows, so that of two beginnings of the same
boxes one that is no better anywhere may be left out.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from sigsim.decide.order.following import Following, subsets
from sigsim.states.rows import NEPER_DB

if TYPE_CHECKING:
    from sigsim.decide.order.beginnings import Goal
    from sigsim.decide.order.runs import Runs
    from sigsim.decide.order.trial import Trial
    from sigsim.physics.arrays import FloatArray
    from sigsim.states.graph import Index

# More beginnings than this are not followed at once.
_WIDEST: Final = 60_000
_ROUNDING: Final = 1e-9
# What does no harm at all counts as so little [nepers].
_NOTHING: Final = -20.0


class _Some(NamedTuple):
    """Beginnings of the same boxes.

    Attributes
    ----------
    orders : shape (beginnings, boxes)
    costs : of their pairs
    worst : by the kind in the reference, the set that passes next and the input that is met then
        [nepers], shape (beginnings, kinds, sets, inputs); sets and inputs of what is left alone
    """

    orders: Index
    costs: Index
    worst: FloatArray


class Layers:
    """Goes through all orders that can meet a goal.

    Parameters
    ----------
    runs : the bounds
    following : on what can follow
    trial : which orders are permitted, and when to end
    goal : what is looked for

    Attributes
    ----------
    tried : how many beginnings were looked at
    """

    def __init__(self, runs: Runs, following: Following, trial: Trial, goal: Goal) -> None:
        self.runs, self.following, self.trial, self.goal = runs, following, trial, goal
        self.permitted, self.tried = trial.permitted, 0
        pairs = trial.pairs.custom * goal.costs + trial.pairs.turned
        self.adding, self.rest = self.permitted.adding(pairs), self.permitted.rest(pairs)
        self.limit = goal.limit / NEPER_DB + _ROUNDING
        # What stands for others may lose more than these by so much in the end, and is still to
        # be within the limit.
        self.harmless = self.limit - goal.slack * trial.permitted.size / NEPER_DB
        self.beside = runs.low_reference

    def all(self) -> Index | None:
        """Return the orders that may meet it.

        Returns
        -------
        None if there were too many to be sure of all

        Raises
        ------
        EndedError : the time is up
        """
        zero = np.zeros(1, np.int64)
        worst = _started(self.runs, self.following)
        found = {0: _Some(np.zeros((1, 0), np.int64), zero, worst)}
        for _ in range(self.runs.size):
            grown: dict[int, list[_Some]] = {}
            for taken, some in found.items():
                self.trial.clock.tick()
                for element in range(self.runs.size):
                    if self.permitted.may_lead(np.array([taken]), element)[0]:
                        part = self._behind(taken, some, element)
                        if part is not None:
                            grown.setdefault(taken | 1 << element, []).append(part)
            found = {}
            for taken, parts in grown.items():
                best = self._fewer(taken, parts)
                if best.costs.size:
                    found[taken] = best
            if sum(some.costs.size for some in found.values()) > _WIDEST:
                return None
        return next(iter(found.values())).orders if found else np.zeros((0, self.runs.size), int)

    def _behind(self, taken: int, some: _Some, element: int) -> _Some | None:
        """Return beginnings with one thing more."""
        runs, head = self.runs, taken | 1 << element
        costs = some.costs + self.adding[taken, element]
        good = np.flatnonzero(costs + self.rest[head] <= self.goal.most)
        if not good.size:
            return None
        self.tried += good.size
        worst = some.worst if good.size == costs.size else some.worst[good]
        inputs, kept = self.following.inputs(taken), self.following.inputs(head)
        # The sets with it, of those of all that is left.
        below = (~taken & ((1 << element) - 1)).bit_count()
        shape = *worst.shape[:2], -1, 2, 1 << below, inputs.size
        columns = np.searchsorted(inputs, kept)
        with_it = worst.reshape(shape)[..., 1, :, :][..., columns]
        count, kinds = worst.shape[:2]
        made = with_it.reshape(count, kinds, -1, kept.size)
        left = subsets(~head & (runs.sets - 1))
        for output, ways in self.following.ways[element].items():
            value = np.full((count, kinds), -np.inf)
            for way in ways:
                own = worst[:, :, 0, np.searchsorted(inputs, way.input)]
                if way.whole:
                    kind = runs.kind[output]
                    whole = (own + self.beside[:, way.input]).max(axis=1) + way.base
                    value[:, kind] = np.maximum(value[:, kind], whole)
                else:
                    np.maximum(value, own + way.base, out=value)
            met = self.following.met(output, left, kept)
            for kind in np.flatnonzero((value > -np.inf).any(axis=0)).tolist():
                part = value[:, kind, None, None] + met
                np.maximum(made[:, kind], part, out=made[:, kind])
        orders = np.concatenate((some.orders[good], np.full((good.size, 1), element)), axis=1)
        return _Some(orders, costs[good], made)

    def _fewer(self, taken: int, parts: list[_Some]) -> _Some:
        """Return the beginnings that can meet the goal and of which no other is as good."""
        orders, costs, worst = (np.concatenate(p) for p in zip(*parts, strict=True))
        least = self.following.least(taken, worst)
        good = np.flatnonzero(least <= self.limit)
        if good.size < least.size:
            orders, costs, worst = orders[good], costs[good], worst[good]
        if not good.size or self.goal.first:
            return _Some(orders, costs, worst)
        floor = self.following.floor(taken, self.harmless)
        np.maximum(worst, floor, out=worst)
        kept = self._best(costs, worst.reshape(good.size, -1))
        return _Some(orders[kept], costs[kept], worst[kept])

    def _best(self, costs: Index, worst: FloatArray) -> Index:
        if costs.size == 1:
            return np.zeros(1, np.int64)
        telling = np.flatnonzero(worst.min(axis=0) < worst.max(axis=0))
        worst = worst[:, telling]
        promise = np.maximum(worst, _NOTHING).sum(axis=1)
        order = np.lexsort((promise, costs) if self.goal.costs else (costs, promise))
        slack = self.goal.slack / NEPER_DB + _ROUNDING
        kept = []
        worst, costs = worst[order], costs[order]
        while order.size:
            kept.append(int(order[0]))
            as_good = (worst[0] - slack <= worst).all(axis=1)
            if self.goal.costs:
                as_good &= costs[0] <= costs
            as_good[0] = True
            left = np.flatnonzero(~as_good)
            worst, order, costs = worst[left], order[left], costs[left]
        return np.array(kept)


def _started(runs: Runs, following: Following) -> FloatArray:
    """Return what the only beginning without a box is; see `_Some`."""
    left, inputs = np.arange(runs.sets), np.arange(len(runs.owner))
    kinds = len(runs.low_reference)
    worst = np.full((1, kinds, left.size, inputs.size), -np.inf)
    for output, base in runs.starts:
        here = worst[0, runs.kind[output]]
        np.maximum(here, base + following.met(output, left, inputs), out=here)
    return worst


def root(runs: Runs, following: Following) -> float:
    """Return what no order scores less than [nepers]."""
    return float(following.least(0, _started(runs, following))[0])
