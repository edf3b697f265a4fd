"""Walks through a graph that keep only what can lead to the extreme, or the best so many."""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from sigsim.states.dominance import undominated
from sigsim.states.rows import Rows, joined, scores

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sigsim.physics.arrays import FloatArray
    from sigsim.states.disks import Disks
    from sigsim.states.graph import Bundle, Choice, Graph, Index
    from sigsim.states.quiet import Calm
    from sigsim.states.rows import Criteria

# Rows kept at a node at first, and so many times more in each walk after it.
FIRST_ROWS: Final = 48
_MORE: Final = 4
# Slack that is no more than rounding [nepers].
NO_SLACK: Final = 1e-11
# A score that is short of a bound by so much may be rounding [nepers].
_ROUNDING: Final = 1e-9
# Rows compared with one another at once: their memory is some 4 kB each.
_COMPARED: Final = 4096
# Once there is no time left so many rows are kept at a node.
_HURRIED: Final = 12


@dataclass(frozen=True)
class Bounds:
    """What is known already of a graph.

    Attributes
    ----------
    columns : what can follow each node, None for nothing
    least : a score below which nothing is of interest [nepers], shape (scores,)
    """

    columns: Sequence[Rows | None]
    least: FloatArray


@dataclass(frozen=True)
class Sweep:
    """How a graph is swept.

    Attributes
    ----------
    graph : from one end to the other
    disks : the enclosures of its nodes; None to leave out nothing but what is alike
    criteria : by which rows are compared
    calm : by how much what follows each node can silence a row at most, see `quiet`; None where
        nothing can be silent
    """

    graph: Graph
    disks: Sequence[Disks] | None
    criteria: Criteria
    calm: Calm | None = None

    def rows(
        self, most: int, bounds: Bounds | None = None, deadline: float = np.inf
    ) -> list[Rows | None]:
        """Return the rows at each node that can lead to the largest score.

        Parameters
        ----------
        most : how many are kept at a node, see `undominated`
        bounds : from a walk the other way
        deadline : after which only a few are kept [s of the monotonic clock]
        """
        found: list[Rows | None] = [Rows.first(self.graph.start, self.criteria)]
        for node, bundles in enumerate(self.graph.arriving()):
            if not node:
                continue
            parts = [
                part for bundle in bundles for part in self._behind(found[bundle.tail], bundle)
            ]
            rows = joined(parts).scaled(self.criteria) if parts else None
            if rows is not None and bounds is not None:
                rows = self._of_interest(rows, bounds, node)
            if rows is not None and self.disks is not None:
                kept = most if time.monotonic() < deadline else min(most, _HURRIED)
                rows = self._undominated(rows, self.disks[node], node, kept)
            found.append(rows)
        return found

    def _undominated(self, rows: Rows, disks: Disks, node: int, most: int) -> Rows:
        """Return what is undominated, of very many rows first among each part of them."""
        count = len(rows.p)
        if count > _COMPARED:
            parts = [
                rows.some(slice(i, i + _COMPARED // 2)) for i in range(0, count, _COMPARED // 2)
            ]
            rows = joined([self._undominated(part, disks, node, most) for part in parts])
            if len(rows.p) < count:
                return self._undominated(rows, disks, node, most)
        safe = None if self.calm is None else self.calm.safe(rows, node)
        return undominated(rows, self.criteria, disks, most, safe)

    def _behind(self, rows: Rows | None, bundle: Bundle) -> list[Rows]:
        if rows is None:
            return []
        cuts = bundle.cuts
        parts = [rows.behind(bundle, np.flatnonzero(~cuts))] if not cuts.all() else []
        for option in np.flatnonzero(cuts):
            parts.append(self._best_of_alike(rows.behind(bundle, np.array([option]))))
        return parts

    def _best_of_alike(self, rows: Rows) -> Rows:
        """Return one row for all behind an isolator, which are alike there but for their scores."""
        if self.criteria.levels:
            return rows
        found = np.log(np.abs(rows.p)) @ self.criteria.weights + rows.base
        best = found.argmax(axis=0)
        slack = (found + rows.slack[:, None]).max(axis=0) - found[best, np.arange(best.size)]
        # Of each variant that row which is the best for it.
        column = np.arange(rows.p.shape[1])
        own = best[self.criteria.owners]
        return Rows(
            rows.p[own, column][None],
            rows.q[own, column][None],
            rows.base[best, np.arange(best.size)][None],
            rows.scale[best[:1]],
            slack.max(keepdims=True),
        )

    def _of_interest(self, rows: Rows, bounds: Bounds, node: int) -> Rows | None:
        """Return the rows that may still lead to a score of interest."""
        columns = bounds.columns[self.graph.nodes - 1 - node]
        if columns is None:
            return None
        found = scores(rows, columns, self.criteria)
        found += (columns.slack + rows.slack[:, None])[..., None]
        kept = (found.max(axis=1) >= bounds.least - _ROUNDING).any(axis=1)
        return rows.some(kept) if kept.any() else None

    def bound(self, rows: Sequence[Rows | None]) -> float:
        """Return a score [nepers] that nothing exceeds, from the rows that are kept."""
        last = rows[-1]
        if last is None:
            return -np.inf
        found = scores(last, self.end(), self.criteria)[..., 0].max(axis=1)
        return float((found + last.slack).max())

    def end(self) -> Rows:
        """Return the column at the end of the graph."""
        return Rows.first(self.graph.end, self.criteria)


class Step(NamedTuple):
    """How the kept ways to a node came there.

    Attributes
    ----------
    bundle : its place in the graph, shape (ways,)
    option : of the bundle
    before : which way at the node before
    """

    bundle: Index
    option: Index
    before: Index


class Way(NamedTuple):
    """One way through a graph.

    Attributes
    ----------
    score : [nepers]
    choices : what each of its options stands for
    """

    score: float
    choices: tuple[Choice, ...]


def best(sweep: Sweep, columns: Sequence[Rows | None], count: int) -> list[Way]:
    """Return the ways through a graph with the largest scores.

    At each node those are kept with which the best that can follow scores most: exactly the best
    ones if for each of these the best that can follow is among the columns.

    Parameters
    ----------
    sweep : of the graph
    columns : what can follow each node, from a walk the other way
    count : how many
    """
    graph, criteria = sweep.graph, sweep.criteria
    kept: list[Rows | None] = [Rows.first(graph.start, criteria)]
    steps: list[Step | None] = [None]
    places = {id(bundle): place for place, bundle in enumerate(graph.bundles)}
    for node, bundles in enumerate(graph.arriving()):
        if not node:
            continue
        behind = columns[graph.nodes - 1 - node]
        rows, step = _arrived(kept, bundles, places)
        if rows is None or step is None or behind is None:
            kept.append(None)
            steps.append(None)
            continue
        rows = rows.scaled(criteria)
        promise = scores(rows, behind, criteria)[..., 0].max(axis=1)
        order = np.argsort(-promise, kind="stable")[:count]
        order = order[promise[order] > -np.inf]
        kept.append(rows.some(order) if order.size else None)
        steps.append(Step(*(part[order] for part in step)))
    last = kept[-1]
    if last is None:
        return []
    found = scores(last, sweep.end(), criteria)[..., 0].max(axis=1)
    order = np.argsort(-found, kind="stable")
    return [Way(float(found[way]), _choices(graph, steps, way)) for way in order.tolist()]


def _arrived(
    kept: Sequence[Rows | None], bundles: Sequence[Bundle], places: dict[int, int]
) -> tuple[Rows | None, Step | None]:
    """Return the rows that arrive at a node, and how."""
    parts, steps = [], []
    for bundle in bundles:
        before = kept[bundle.tail]
        if before is None:
            continue
        count = len(before.p)
        options = np.arange(len(bundle.choices))
        parts.append(before.behind(bundle, options))
        place = np.full(count * options.size, places[id(bundle)])
        option, way = options.repeat(count), np.tile(np.arange(count), options.size)
        steps.append((place, option, way))
    if not parts:
        return None, None
    return joined(parts), Step(*(np.concatenate(part) for part in zip(*steps, strict=True)))


def _choices(graph: Graph, steps: Sequence[Step | None], way: int) -> tuple[Choice, ...]:
    """Return what one way through a graph stands for."""
    node, found = graph.nodes - 1, []
    while node:
        step = steps[node]
        assert step is not None
        bundle = graph.bundles[int(step.bundle[way])]
        found.append(bundle.choices[int(step.option[way])])
        way, node = int(step.before[way]), bundle.tail
    return tuple(found)


def best_of(
    straight: Sweep,
    turned: Sweep,
    count: int,
    deadline: float,
    first: Sequence[Rows | None] | None = None,
) -> tuple[Sequence[Way], float | None]:
    """Return the best ways through a graph.

    Parameters
    ----------
    straight, turned : walks through the graph from its two ends
    count : how many ways
    deadline : when to stop [s of the monotonic clock]
    first : the rows of the turned walk that keeps `FIRST_ROWS`, if they are there already

    Returns
    -------
    the ways, the best first, and a bound on all others where these are not proven [nepers]
    """
    walker, other = turned, straight
    most, bounds = FIRST_ROWS, None
    found: Sequence[Way] = ()
    while True:
        columns = first or walker.rows(most, bounds, deadline)
        first = None
        now = best(other, columns, count)
        if _last(now) >= _last(found):
            found = now
        slack = max(float(rows.slack.max()) for rows in columns if rows is not None)
        if slack <= NO_SLACK:
            return found, None
        least = found[-1].score if len(found) == count else -np.inf
        bound = max(walker.bound(columns), found[0].score if found else -np.inf)
        if count == 1 and bound - least <= NO_SLACK:
            return found, None
        if time.monotonic() > deadline:
            return found, bound
        bounds = Bounds(columns, np.array([least]))
        walker, other, most = other, walker, _MORE * most


def _last(ways: Sequence[Way]) -> tuple[int, float]:
    """Return how many ways there are, and what the last of them scores."""
    return len(ways), ways[-1].score if ways else -np.inf
