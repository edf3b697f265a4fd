"""The ways between vertices: places of a graph behind which all ways are alike but for a score.

Behind an option that cuts, all that came before is one number, the score so far. So the score of a
state is a sum over the stretches of its way from vertex to vertex. Within one, passive things that
switch multiply, and every way is followed; those that say the same are one.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from sigsim.states.distinct import count_states
from sigsim.states.quiet import SEEN_OHMS
from sigsim.states.rows import NEPER_DB

if TYPE_CHECKING:
    from sigsim.physics.arrays import ComplexArray, FloatArray
    from sigsim.states.graph import Bundle, Choice, Flags, Graph, Index

# Ways that are followed at once, and in all.
MOST_OPEN: Final = 1 << 15
MOST_WAYS: Final = 1 << 17
# Rows are scaled where they are larger, or smaller by the same factor.
_LARGE: Final = 1e80
_LEAST: Final = 1e-300
# Ways that differ by no more than rounding say the same [-], [nepers].
_ROUNDING: Final = 1e-11


@dataclass(frozen=True)
class Arrivals:
    """All stretches that end at one vertex.

    Attributes
    ----------
    start : the vertex at which each begins, shape (ways,)
    score : of each [dB], shape (ways,)
    count : how many states of what it passes sound like it, shape (ways,)
    switches : those that are on in some of them but not in all
    on : in how many each of these is on, shape (ways, switches)
    always : in which share of the states behind the vertex others are on, through its last option
    """

    start: Index
    score: FloatArray
    count: FloatArray
    switches: tuple[str, ...]
    on: FloatArray
    always: Mapping[str, float]


class TooManyWaysError(Exception):
    """There are more ways between vertices than can be followed."""


def arrivals(
    graph: Graph,
    weights: FloatArray,
    fixed: Mapping[str, bool],
    most: tuple[int, int] = (MOST_OPEN, MOST_WAYS),
) -> list[Arrivals]:
    """Return the stretches to every vertex but the first one, the instrument.

    Parameters
    ----------
    graph : of a board
    weights : of the logarithm of 1/|H| in each column, shape (columns,)
    fixed : things held on or off
    most : how many ways are followed at once, and in all

    Returns
    -------
    in the order of the vertices; the last one is the destination. None where it is not reached

    Raises
    ------
    TooManyWaysError : there are more ways
    """
    return _Walk(graph, weights, fixed, most).arrivals()


class _Open(NamedTuple):
    """Ways that have not come to a vertex yet, at one node.

    Attributes
    ----------
    p, q : of each, shape (ways, columns)
    base : its score beside that of p and q [nepers], shape (ways,)
    start : the vertex at which it begins, shape (ways,)
    number : of states that sound like it, shape (ways,)
    on : in how many of them each switch is on, shape (ways, switches)
    """

    p: ComplexArray
    q: ComplexArray
    base: FloatArray
    start: Index
    number: FloatArray
    on: FloatArray

    def some(self, rows: Index | Flags) -> _Open:
        p, q, base, start, number, on = self
        return _Open(p[rows], q[rows], base[rows], start[rows], number[rows], on[rows])

    @property
    def size(self) -> FloatArray:
        """How large p and q are together, shape (ways, columns)."""
        size: FloatArray = np.maximum(np.abs(self.p) + np.abs(self.q) / SEEN_OHMS, _LEAST)
        return size


class _Walk:
    """Follows all ways through a graph, node by node."""

    def __init__(
        self, graph: Graph, weights: FloatArray, fixed: Mapping[str, bool], most: tuple[int, int]
    ) -> None:
        kept = np.flatnonzero(weights)
        self.graph, self.weights = graph.columns(kept), weights[kept]
        self.fixed, self.most_open, self.most_ways = fixed, *most
        inner = (
            c for b in graph.bundles for c, cut in zip(b.choices, b.cuts, strict=True) if not cut
        )
        names = dict.fromkeys(name for choice in inner for name in self._shares(choice)[1])
        self.switches = tuple(names)
        self.found: list[Arrivals] = []
        self.ways = 0

    def arrivals(self) -> list[Arrivals]:
        """Return the stretches to every vertex."""
        graph = self.graph
        last = {bundle.tail: bundle.head for bundle in graph.bundles}
        at: dict[int, _Open] = {0: self._begun(graph.start[:, None], 0)}
        for node, bundles in enumerate(graph.arriving()):
            parts = [part for bundle in bundles for part in self._behind(at, bundle)]
            if parts:
                at[node] = self._merged(self._scaled(_joined(parts, self.most_open)))
            for tail in {bundle.tail for bundle in bundles}:
                if last[tail] == node:
                    at.pop(tail, None)
        rows = at.get(graph.nodes - 1)
        if rows is None:
            return []
        r, s = graph.end
        self._arrived(rows, np.abs(rows.p * r + rows.q * s), {})
        return self.found

    def _behind(self, at: Mapping[int, _Open], bundle: Bundle) -> Iterator[_Open]:
        """Yield the ways behind each option; behind one that cuts, a new vertex."""
        rows = at.get(bundle.tail)
        if rows is None:
            return
        for option, choice in enumerate(bundle.choices):
            A, B, C, D = bundle.matrices[:, option]
            p, q = rows.p * A + rows.q * C, rows.p * B + rows.q * D
            number, shares = self._shares(choice)
            behind = rows._replace(p=p, q=q, number=rows.number * number)
            if bundle.cuts[option]:
                size = behind.size
                self._arrived(behind, size, shares)
                yield self._begun(np.stack((p[:1], q[:1])) / size[0], len(self.found))
            else:
                on = rows.on * number
                for name, share in shares.items():
                    on[:, self.switches.index(name)] = share * behind.number
                yield behind._replace(on=on)

    def _begun(self, pq: ComplexArray, vertex: int) -> _Open:
        """Return the way that begins at a vertex."""
        one = np.ones(1)
        on = np.zeros((1, len(self.switches)))
        return _Open(pq[0], pq[1], 0 * one, np.array([vertex]), one, on)

    def _arrived(self, rows: _Open, size: FloatArray, always: Mapping[str, float]) -> None:
        """Note the stretches to a new vertex."""
        self.ways += rows.start.size
        if self.ways > self.most_ways:
            raise TooManyWaysError
        score = (rows.base + np.log(np.maximum(size, _LEAST)) @ self.weights) * NEPER_DB
        seen = np.flatnonzero(rows.on.any(axis=0))
        names = tuple(self.switches[i] for i in seen.tolist())
        self.found.append(Arrivals(rows.start, score, rows.number, names, rows.on[:, seen], always))

    def _shares(self, choice: Choice) -> tuple[float, dict[str, float]]:
        """Return how many states an option stands for, and in which share of them what is on."""
        shares = {name: 1.0 for name in choice.on if name not in self.fixed}
        if not choice.free:
            return 1.0, shares
        number = count_states(choice.free, self.fixed)
        for name in _switches(choice.free):
            if name not in self.fixed:
                off = count_states(choice.free, {**self.fixed, name: False})
                shares[name] = (number - off) / number
        return float(number), shares

    def _scaled(self, rows: _Open) -> _Open:
        """Return ways with p and q that do not overflow."""
        size = rows.size
        if size.max() < _LARGE and size.min() > 1 / _LARGE:
            return rows
        base = rows.base + np.log(size) @ self.weights
        return rows._replace(p=rows.p / size, q=rows.q / size, base=base)

    def _merged(self, rows: _Open) -> _Open:
        """Return ways of which those that begin alike and say the same are one."""
        if rows.start.size == np.unique(rows.start).size:
            return rows
        # What ways say to any one input tells those apart that do not say the same.
        told = np.log(np.abs(rows.p + rows.q * ((1 + 1j) / SEEN_OHMS))) @ self.weights + rows.base
        order = np.lexsort((told, rows.start))
        rows, told = rows.some(order), told[order]
        alike = (np.diff(rows.start) == 0) & (np.diff(told) < _ROUNDING)
        pairs = np.flatnonzero(alike)
        alike[pairs] = self._same(rows, pairs)
        firsts = np.flatnonzero(np.concatenate(([True], ~alike)))
        if firsts.size == rows.start.size:
            return rows
        number, on = (np.add.reduceat(part, firsts, axis=0) for part in (rows.number, rows.on))
        return rows.some(firsts)._replace(number=number, on=on)

    def _same(self, rows: _Open, pairs: Index) -> Flags:
        """Return which ways say the same as the next one."""
        one, two = rows.some(pairs), rows.some(pairs + 1)
        across = np.abs(one.p * two.q - one.q * two.p) / SEEN_OHMS
        sizes = one.size, two.size
        apart = np.log(sizes[0] / sizes[1]) @ self.weights + one.base - two.base
        same = (across <= _ROUNDING * sizes[0] * sizes[1]).all(axis=1)
        both: Flags = same & (np.abs(apart) < _ROUNDING)
        return both


def _joined(parts: Sequence[_Open], most: int) -> _Open:
    if sum(part.start.size for part in parts) > most:
        raise TooManyWaysError
    if len(parts) == 1:
        return parts[0]
    return _Open(*(np.concatenate(columns) for columns in zip(*parts, strict=True)))


def _switches(items: Sequence[object]) -> Iterator[str]:
    """Yield the names of all that switches among some items and inside them."""
    for item in items:
        name = getattr(item, "switch", None)
        if name is not None:
            yield name
        yield from _switches(getattr(item, "inside", ()))
