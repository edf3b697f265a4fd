"""All orders as beginnings that grow by one box at a time."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from sigsim.states.open_ends import Ends, passed, side_by_side
from sigsim.states.rows import NEPER_DB
from sigsim.states.seen import Seen

if TYPE_CHECKING:
    from sigsim.decide.order.bounds import Bounds, Within
    from sigsim.decide.order.losses import Together
    from sigsim.decide.order.nodes import Step
    from sigsim.decide.order.trial import Trial
    from sigsim.physics.arrays import FloatArray
    from sigsim.states.graph import Flags, Index

# More beginnings than this are not followed at once; the others are left out.
_WIDEST: Final = 60_000
_ROUNDING_DB: Final = 1e-8
_ROUNDING: Final = 1e-12


@dataclass(frozen=True)
class Goal:
    """What is looked for.

    Attributes
    ----------
    limit : the loss is no larger than this [dB]
    slack : of two beginnings one may be left out if the other loses no more than this more [dB]
    costs : how much more a pair against the custom costs than one turned; 0 for no costs
    most : what the pairs cost at most
    first : whether the one with the lowest loss of those that meet it is looked for, and not any
        with the lowest costs
    """

    limit: float
    slack: float = 0.0
    costs: int = 0
    most: float = math.inf
    first: bool = False


class _Some(NamedTuple):
    """Beginnings of the same length.

    Attributes
    ----------
    nodes : how far each has come
    orders : what stands in them, shape (beginnings, things)
    costs : of their pairs
    least : what they lose at least [dB]
    ends : in each view that is heard
    """

    nodes: Index
    orders: Index
    costs: Index
    least: FloatArray
    ends: list[Ends]

    def some(self, kept: Index) -> _Some:
        """Return some of them."""
        ends = [one.of(kept) for one in self.ends] if kept.size else []
        return _Some(self.nodes[kept], self.orders[kept], self.costs[kept], self.least[kept], ends)


class Beginnings:
    """Goes through all orders that can meet a goal.

    Parameters
    ----------
    losses : of the orders
    bounds : on these
    trial : takes over what is found
    goal : what is looked for

    Attributes
    ----------
    tried : how many beginnings were looked at
    """

    def __init__(self, losses: Together, bounds: Bounds, trial: Trial, goal: Goal) -> None:
        self.losses, self.bounds, self.trial, self.goal = losses, bounds, trial, goal
        self.nodes, self.tried, self._whole = bounds.nodes, 0, True
        self.heard = [view for view in bounds.views if view.start is not None]
        pairs = trial.pairs.custom * goal.costs + trial.pairs.turned
        self.adding = trial.permitted.adding(pairs)
        self.rest = trial.permitted.rest(pairs)

    def all(self) -> bool:
        """Go through all, and return whether none was left out that could have met the goal.

        Raises
        ------
        EndedError : the time is up
        """
        zero = np.zeros(1, np.int64)
        starts = [view.line.start for view in self.heard]
        found = _Some(zero, np.zeros((1, 0), np.int64), zero, np.zeros(1), starts)
        for steps in self.nodes.layers:
            found = self._longer(steps, found)
            if not found.nodes.size:
                return self._whole
        self.trial.look(np.unique(np.minimum(found.orders, self.losses.count), axis=0))
        return self._whole

    def _longer(self, steps: Sequence[Step], found: _Some) -> _Some:
        """Return the beginnings that are longer by one thing and can still meet the goal."""
        by_node = np.argsort(found.nodes, kind="stable")
        nodes = found.nodes[by_node]
        parts = []
        for step in steps:
            self.trial.clock.tick()
            low = np.searchsorted(nodes, step.tails, "left")
            counts = np.searchsorted(nodes, step.tails, "right") - low
            own, heads = by_node[_ranges(low, counts)], np.repeat(step.heads, counts)
            part = self._behind(step, found, own, heads)
            if part is not None and part.nodes.size:
                parts.append(part)
        if not parts:
            return found.some(np.zeros(0, np.int64))
        return self._fewer(_together(parts))

    def _behind(self, step: Step, found: _Some, own: Index, heads: Index) -> _Some | None:
        """Return some beginnings with one thing more, less those that cannot meet the goal."""
        sets = self.nodes.sets
        box = min(step.element, self.losses.count)
        costs = found.costs[own] + self.adding[found.nodes[own] % sets, box]
        good = costs + self.rest[heads % sets] <= self.goal.most
        own, heads, costs = own[good], heads[good], costs[good]
        if not own.size:
            return None
        self.tried += own.size
        ends = [
            passed(one.of(own), view.line.step(*step[:3]))
            for one, view in zip(found.ends, self.heard, strict=True)
        ]
        elements = np.full((own.size, 1), step.element)
        orders = np.concatenate((found.orders[own], elements), axis=1)
        least = self._least(ends, heads)
        made = _Some(heads, orders, costs, least, ends)
        return made.some(np.flatnonzero(least <= self.goal.limit + _ROUNDING_DB))

    def _least(self, ends: Sequence[Ends], nodes: Index) -> FloatArray:
        """Return what beginnings lose at least [dB]."""
        own = iter(ends)
        views = self.bounds.views
        values = [v.least(None if v.start is None else next(own), nodes) for v in views]
        return self.losses.over_views(values)

    def _fewer(self, found: _Some) -> _Some:
        """Return the beginnings of which no other of the same boxes is as good."""
        goal, nodes = self.goal, found.nodes
        if not goal.first and not self.bounds.mean:
            pairs = zip(found.ends, self.heard, strict=True)
            found = found._replace(ends=[self._dangerous(e, view, nodes) for e, view in pairs])
        # The most promising first.
        keys = (found.least, found.costs) if goal.costs else (found.costs, found.least)
        order = np.lexsort((*keys, nodes))
        groups = np.split(order, np.flatnonzero(np.diff(nodes[order])) + 1)
        kept = np.sort(np.concatenate([self._best_of(group, found) for group in groups]))
        if kept.size > _WIDEST:
            self._whole = False
            best = np.argsort(found.least[kept], kind="stable")
            kept = np.sort(kept[best[:_WIDEST]])
        return found.some(kept)

    def _dangerous(self, ends: Ends, view: Within, nodes: Index) -> Ends:
        """Return ends without those with which nothing can lose more than the limit."""
        harmless = view.at_most(ends, nodes) <= self.goal.limit
        # Each beginning keeps one, even if it does no harm any more.
        danger = ends.most(np.where(harmless, 0.0, 1.0)) > 0
        first = np.zeros(harmless.size, bool)
        first[ends.starts] = True
        ends = ends._replace(base=np.where(harmless, -np.inf, ends.base))
        return ends.some(~harmless | (first & ~danger[ends.owner]))

    def _best_of(self, group: Index, found: _Some) -> Index:
        """Return the beginnings, of some of the same boxes, of which no other is as good."""
        if group.size == 1:
            return group
        node = found.nodes[group[:1]]
        point = int(self.nodes.junction(node)[0]), int(self.nodes.gap(node)[0])
        seen = []
        for one, view in zip(found.ends, self.heard, strict=True):
            own = one.of(group)
            seen.append((Seen.over(own.Z, own.base, view.around.behind[point]), own))
        alive = np.ones(group.size, bool)
        kept = []
        for one_of_them in range(group.size):
            if not alive[one_of_them]:
                continue
            self.trial.clock.tick()
            kept.append(one_of_them)
            alive[one_of_them] = False
            if not alive.any():
                break
            alive &= ~self._worse(one_of_them, alive, group, found, seen)
        return group[kept]

    def _worse(
        self,
        one: int,
        alive: Flags,
        group: Index,
        found: _Some,
        seen: Sequence[tuple[Seen, Ends]],
    ) -> Flags:
        """Return which beginnings of a group are no better than one of them."""
        worse: Flags = alive & (found.costs[group] >= found.costs[group[one]])
        if self.goal.first:
            worse &= _later(found.orders[group], found.orders[group[one]])
        for over, ends in seen:
            worse &= _covered(over, ends, one, self.goal.slack / NEPER_DB)
        return worse


def _later(orders: Index, one: Index) -> Flags:
    """Return which orders come behind one, by their numbers."""
    differ = orders != one
    place = differ.argmax(axis=1)
    later: Flags = differ.any(axis=1) & (orders[np.arange(len(orders)), place] > one[place])
    return later


def _covered(seen: Seen, ends: Ends, one: int, slack: float) -> Flags:
    """Return for which beginnings each end of one of them has an end that is as bad."""
    mine = np.flatnonzero((ends.owner == one) & (ends.base > -np.inf))
    covered = np.ones(int(ends.owner[-1]) + 1, bool)
    for end in mine.tolist():
        apart = seen.apart((slice(end, end + 1),), ())
        spare = (seen.lead - seen.lead[:, end, None] - apart).min(axis=0) + slack
        # What cannot be told is not as bad.
        covered &= ends.most(spare) >= -_ROUNDING
    return covered


def _ranges(starts: Index, counts: Index) -> Index:
    """Return the numbers from each start, so many of each."""
    firsts = np.cumsum(counts) - counts
    index: Index = np.arange(counts.sum()) + np.repeat(starts - firsts, counts)
    return index


def _together(parts: Sequence[_Some]) -> _Some:
    sizes = np.cumsum([0, *(part.nodes.size for part in parts)]).tolist()
    owners = [np.arange(a, b) for a, b in pairwise(sizes)]
    views = range(len(parts[0].ends))
    ends = [side_by_side([part.ends[view] for part in parts], owners) for view in views]
    nodes, orders, costs, least, _ = zip(*parts, strict=True)
    return _Some(
        np.concatenate(nodes),
        np.concatenate(orders),
        np.concatenate(costs),
        np.concatenate(least),
        ends,
    )
