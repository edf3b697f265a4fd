"""All orders as beginnings that grow by one box at a time."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.states.open_ends import Ends, largest, passed, side_by_side
from sigsim.states.rows import NEPER_DB
from sigsim.states.seen import Seen

if TYPE_CHECKING:
    from sigsim.decide.order.bounds import Bounds
    from sigsim.decide.order.losses import Together
    from sigsim.decide.order.trial import Trial
    from sigsim.physics.arrays import FloatArray
    from sigsim.states.graph import Flags, Index

# More beginnings than this are not followed at once; the others are left out.
_WIDEST: Final = 60_000
_ROUNDING_DB: Final = 1e-8


@dataclass(frozen=True)
class Goal:
    """What is looked for.

    Attributes
    ----------
    limit : the loss is no larger than this [dB]
    slack : of two beginnings one may be left out if the other loses no more than this more [dB]
    costs : how much more a pair against the custom costs than all pairs turned; 0 for no costs
    most : what the pairs cost at most
    first : whether of those that meet it the one with the lowest loss is looked for
    """

    limit: float
    slack: float = 0.0
    costs: int = 0
    most: float = math.inf
    first: bool = False


class Beginnings:
    """Goes through all orders that can meet a goal.

    Parameters
    ----------
    losses : of the orders
    bounds : on these
    trial : takes over what is found
    goal : what is looked for
    """

    def __init__(self, losses: Together, bounds: Bounds, trial: Trial, goal: Goal) -> None:
        self.losses, self.bounds, self.trial, self.goal = losses, bounds, trial, goal
        self.tried = 0
        pairs = trial.pairs.custom * goal.costs + trial.pairs.turned
        self.adding = trial.permitted.adding(pairs)
        self.rest = trial.permitted.rest(pairs)
        self.whole = True

    def all(self) -> bool:
        """Go through all, and return whether none was left out that could have met the goal."""
        nodes = np.zeros(1, np.int64)
        orders = np.zeros((1, 0), np.int64)
        costs = np.zeros(1, np.int64)
        ends = [view.line.start for view in self.bounds.views if view.line.heard]
        for steps in self.bounds.nodes.layers:
            nodes, orders, costs, ends = self._longer(steps, nodes, orders, costs, ends)
            if not nodes.size:
                return self.whole
        self._done(nodes, orders)
        return self.whole

    def _done(self, nodes: Index, orders: Index) -> None:
        count = self.losses.count
        plain = np.unique(np.minimum(orders, count), axis=0)
        self.trial.look(plain)

    def _longer(self, steps, nodes, orders, costs, ends):
        """Return the beginnings that are longer by one thing and can still meet the goal."""
        found = []
        by_node = np.argsort(nodes, kind="stable")
        sorted_nodes = nodes[by_node]
        for step in steps:
            self.trial.clock.tick()
            low = np.searchsorted(sorted_nodes, step.tails, "left")
            high = np.searchsorted(sorted_nodes, step.tails, "right")
            own = _ranges(low, high - low)
            heads = np.repeat(step.heads, high - low)
            own = by_node[own]
            if not own.size:
                continue
            box = min(step.element, self.losses.count)
            cost = costs[own] + self.adding[nodes[own] % self.bounds.nodes.sets, box]
            good = cost + self.rest[heads % self.bounds.nodes.sets] <= self.goal.most
            own, heads, cost = own[good], heads[good], cost[good]
            if not own.size:
                continue
            self.tried += own.size
            made = [
                passed(line_ends.of(own), view.line.step(*step[:3]))
                for line_ends, view in zip(ends, self._heard, strict=True)
            ]
            longer = np.concatenate(
                (orders[own], np.full((own.size, 1), step.element)), axis=1
            )
            part = self._of_interest(heads, longer, cost, made)
            if part[0].size:
                found.append(part)
        if not found:
            return nodes[:0], orders[:0], costs[:0], []
        return self._fewer(_together(found))

    @property
    def _heard(self):
        return [view for view in self.bounds.views if view.line.heard]

    def _of_interest(self, nodes, orders, costs, ends):
        """Return the beginnings that may lose no more than the limit, less what cannot lose more."""
        values = []
        own = iter(ends)
        for view in self.bounds.views:
            values.append(view.least(next(own) if view.line.heard else None, nodes))
        least = self.losses.over_views(values)
        good = np.flatnonzero(least <= self.goal.limit + _ROUNDING_DB)
        kept = [e.of(good) for e in ends]
        nodes, orders, costs, least = nodes[good], orders[good], costs[good], least[good]
        return nodes, orders, costs, least, kept

    def _fewer(self, parts):
        """Return the beginnings of which no other of the same set is as good."""
        nodes, orders, costs, least, ends = parts
        keep = np.zeros(nodes.size, bool)
        if not self.goal.first and not self.bounds.mean:
            ends = [self._dangerous(e, view, nodes) for e, view in zip(ends, self._heard, strict=True)]
        # The most promising first.
        by = np.lexsort((least, costs, nodes)) if self.goal.costs else np.lexsort((costs, least, nodes))
        bounds = np.flatnonzero(np.diff(nodes[by])) + 1
        for group in np.split(by, bounds):
            keep[self._best_of(group, nodes, orders, costs, ends)] = True
        kept = np.flatnonzero(keep)
        if kept.size > _WIDEST:
            self.whole = False
            kept = np.sort(kept[np.argsort(least[kept], kind="stable")[:_WIDEST]])
        return nodes[kept], orders[kept], costs[kept], [e.of(kept) for e in ends]

    def _dangerous(self, ends, view, nodes):
        """Return ends without those with which nothing can lose more than the limit."""
        most = view.at_most(ends, nodes)
        harmless = most <= self.goal.limit
        # Each beginning keeps one, even if it does no harm any more.
        ends = ends._replace(base=np.where(harmless, -np.inf, ends.base))
        first = np.zeros(ends.base.size, bool)
        first[ends.starts] = True
        return ends.some(~harmless | (first & ~(ends.most(np.where(harmless, 0.0, 1.0)) > 0)[ends.owner]))

    def _best_of(self, group, nodes, orders, costs, ends):
        if group.size == 1:
            return group
        self.trial.clock.tick()
        node = int(nodes[group[0]])
        point = int(self.bounds.nodes.junction(np.array(node))), int(self.bounds.nodes.gap(np.array(node)))
        alive = np.ones(group.size, bool)
        seen, owners = [], []
        for e, view in zip(ends, self._heard, strict=True):
            own = e.of(group)
            seen.append(Seen.over(own.Z, own.base, view.around.behind[point]))
            owners.append(own)
        kept = []
        slack = self.goal.slack / NEPER_DB
        for one in range(group.size):
            if not alive[one]:
                continue
            kept.append(one)
            alive[one] = False
            if not alive.any():
                break
            worse = alive & (costs[group] >= costs[group[one]])
            if self.goal.first:
                later = orders[group] > 0
                worse &= _later(orders[group], orders[group[one]])
            for s, own in zip(seen, owners, strict=True):
                worse &= _covered(s, own, one, slack)
            alive &= ~worse
        return group[kept]


def _later(orders, one):
    """Return which orders come behind one in the order of the file."""
    differ = orders != one
    place = differ.argmax(axis=1)
    row = np.arange(len(orders))
    return differ.any(axis=1) & (orders[row, place] > one[place])


def _covered(seen: Seen, ends: Ends, one: int, slack: float) -> Flags:
    """Return for which beginnings each end of one of them has an end that is as bad."""
    mine = np.flatnonzero((ends.owner == one) & (ends.base > -np.inf))
    count = int(ends.owner[-1]) + 1
    covered = np.ones(count, bool)
    for end in mine.tolist():
        apart = seen.apart((end, None), ())
        spare = (seen.lead - seen.lead[:, end, None] - apart).min(axis=0) + slack
        best = ends.most(np.nan_to_num(spare, nan=-np.inf))
        covered &= best >= -1e-12
    return covered


def _ranges(starts: Index, counts: Index) -> Index:
    """Return the numbers from each start, so many of each."""
    firsts = np.cumsum(counts) - counts
    index: Index = np.arange(counts.sum()) + np.repeat(starts - firsts, counts)
    return index


def _together(found):
    nodes, orders, costs, least, ends = zip(*found, strict=True)
    sizes = np.cumsum([0, *(n.size for n in nodes)])
    joined = []
    for view in range(len(ends[0])):
        owners = [np.arange(a, b) for a, b in zip(sizes[:-1], sizes[1:], strict=True)]
        joined.append(side_by_side([e[view] for e in ends], owners))
    return (
        np.concatenate(nodes), np.concatenate(orders), np.concatenate(costs),
        np.concatenate(least), joined,
    )
