"""Every state of a board as a pair: a row from before a cut, a column from behind it.

Every way through the graph of a board crosses a cut between two of its nodes exactly once, so that
all ways are, for each node before the cut that an edge across it leaves, a table of rows up to that
node and a table of columns that begin with such an edge. 1/H of a state is ``p·r + q·s``. A few
thousand rows and columns are all that is ever computed; what they give together, millions, is a
product of matrices.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from sigsim.metrics import decibels

if TYPE_CHECKING:
    from sigsim.physics.arrays import ComplexArray, FloatArray
    from sigsim.states.graph import Bundle, Choice, Graph, Index
    from sigsim.states.labels import Label, Labels

# Between volts and amperes [Ω]: about what a source shows.
OHMS: Final = 2.0**16
# Rows and columns get no larger or smaller than this before they are scaled.
_LARGE: Final = 2.0**200
# Decibels of a factor of two.
_BIT_DB: Final = float(20 * np.log10(2))


class Table(NamedTuple):
    """Ways to one node as rows of arrays; from the other end of a graph they are columns.

    Attributes
    ----------
    p, q : of each way, or r and s, shape (ways, columns of the graph)
    scale : by what power of two these are too small, shape (ways, columns of the graph)
    labels : what is on, shape (ways, …)
    """

    p: ComplexArray
    q: ComplexArray
    scale: Index
    labels: Label

    def some(self, ways: slice | Index) -> Table:
        """Return some of the ways."""
        p, q, scale, labels = self
        return Table(p[ways], q[ways], scale[ways], labels[ways])

    def scaled(self, ohms: float, large: float = 1.0) -> Table:
        """Return it with the larger one of p and q/ohms at about 1, so that nothing overflows.

        Parameters
        ----------
        ohms : 1/ohms for a table of columns [Ω]
        large : nothing is done before something is that large or small
        """
        size = np.maximum(_size(self.p), _size(self.q) / ohms)
        if large > 1 and size.size and 1 / large < size.min() and size.max() < large:
            return self
        power = np.frexp(size)[1].astype(np.int64)
        factor = np.ldexp(1.0, -power)
        return self._replace(p=self.p * factor, q=self.q * factor, scale=self.scale + power)


def _size(values: ComplexArray) -> FloatArray:
    """Return about the magnitude: the larger one of both parts."""
    size: FloatArray = np.maximum(np.abs(values.real), np.abs(values.imag))
    return size


class Halves:
    """A graph cut in two.

    Parameters
    ----------
    graph : of a board, of which something is heard
    labels : what its rows carry

    Attributes
    ----------
    ways : how many ways lead through it, each label of an option a way of its own
    """

    def __init__(self, graph: Graph, labels: Labels) -> None:
        self.graph, self.labels = graph, labels
        self._turned = graph.turned()
        # The choices of an edge are the same from both ends.
        self._options = {id(b.choices): _options(b.choices, labels) for b in graph.bundles}
        before, behind = self._ways(graph), self._ways(self._turned)[::-1]
        self.ways = before[-1]
        self.cut = self._cut(before, behind)

    def _ways(self, graph: Graph) -> list[int]:
        """Return how many ways lead to each node."""
        found = [1]
        for bundles in graph.arriving()[1:]:
            found.append(
                sum(found[b.tail] * self._options[id(b.choices)].place.size for b in bundles)
            )
        return found

    def _cut(self, before: Sequence[int], behind: Sequence[int]) -> int:
        """Return the node behind which a cut leaves the fewest rows and columns."""
        leaving = self.graph.leaving()

        def size(cut: int) -> int:
            total = 0
            for node in range(cut + 1):
                across = [b for b in leaving[node] if b.head > cut]
                total += before[node] if across else 0
                total += sum(
                    self._options[id(b.choices)].place.size * behind[b.head] for b in across
                )
            return total

        return min(range(max(1, self.graph.nodes - 1)), key=size)

    def pairs(self, most: int | None = None) -> Iterator[tuple[Table, Table]]:
        """Yield tables of rows and of columns: each row with each column is one way.

        Parameters
        ----------
        most : about how many columns a table has at most, None for any number
        """
        rows = self._walked(self.graph, self.cut, OHMS)
        last = self.graph.nodes - 1
        if not last:
            yield rows[0], self._first(self._turned).scaled(1 / OHMS)
            return
        columns = self._walked(self._turned, last - self.cut - 1, 1 / OHMS)
        for node, bundles in enumerate(self.graph.leaving()[: self.cut + 1]):
            across = [bundle for bundle in bundles if bundle.head > self.cut]
            if not across or not len(rows[node].p):
                continue
            for table in self._across(across, columns, most):
                yield rows[node], table

    def _across(
        self, bundles: Sequence[Bundle], columns: Sequence[Table], most: int | None
    ) -> Iterator[Table]:
        """Yield the columns that begin with an edge across the cut, in pieces."""
        last, waiting, count = self.graph.nodes - 1, list[Table](), 0
        for bundle in bundles:
            table, options = columns[last - bundle.head], self._options[id(bundle.choices)]
            if not len(table.p):
                continue
            step = options.place.size if most is None else max(1, most // len(table.p))
            for start in range(0, options.place.size, step):
                part = options.some(slice(start, start + step))
                waiting.append(self._behind(table, bundle.turned(last), part))
                count += len(waiting[-1].p)
                if most is not None and count >= most:
                    yield _joined(waiting).scaled(1 / OHMS)
                    waiting, count = [], 0
        if waiting:
            yield _joined(waiting).scaled(1 / OHMS)

    def _walked(self, graph: Graph, last: int, ohms: float) -> list[Table]:
        """Return the tables at all nodes up to one; those that are not needed again are empty."""
        first = self._first(graph)
        found, empty = [first], first.some(slice(0))
        until = [max((b.head for b in bundles), default=0) for bundles in graph.leaving()]
        for node, bundles in enumerate(graph.arriving()[: last + 1]):
            if not node:
                continue
            parts = [self._behind(found[b.tail], b, self._options[id(b.choices)]) for b in bundles]
            found.append(_joined(parts).scaled(ohms, _LARGE) if parts else empty)
            for tail in {bundle.tail for bundle in bundles}:
                if until[tail] == node:
                    found[tail] = empty
        return [table.scaled(ohms) for table in found]

    def _first(self, graph: Graph) -> Table:
        """Return the one row at the beginning of a graph."""
        p, q = graph.start[:, None]
        return Table(p, q, np.zeros(p.shape, np.int64), self.labels.none())

    def _behind(self, table: Table, bundle: Bundle, options: _Options) -> Table:
        """Return each way of a table behind each of some options."""
        A, B, C, D = bundle.matrices[:, options.place, None]
        p, q = table.p * A + table.q * C, table.p * B + table.q * D
        labels = self.labels.both(table.labels[None], options.labels[:, None])
        shape = -1, p.shape[-1]
        scale = np.broadcast_to(table.scale, p.shape)
        return Table(
            p.reshape(shape),
            q.reshape(shape),
            scale.reshape(shape),
            labels.reshape(-1, *labels.shape[2:]),
        )


class _Options(NamedTuple):
    """The labels of a bundle, and which of its options each belongs to."""

    place: Index
    labels: Label

    def some(self, part: slice) -> _Options:
        return _Options(self.place[part], self.labels[part])


def _options(choices: Sequence[Choice], labels: Labels) -> _Options:
    found = [labels.of(choice) for choice in choices]
    place = np.repeat(np.arange(len(choices)), [len(some) for some in found])
    return _Options(place, np.concatenate(found))


def _joined(tables: Sequence[Table]) -> Table:
    return Table(*(np.concatenate(parts) for parts in zip(*tables, strict=True)))


def gains(rows: Table, columns: Table) -> FloatArray:
    """Return the gain of each row with each column [dB], shape (rows, columns, frequencies)."""
    H = rows.p[:, None] * columns.p + rows.q[:, None] * columns.q
    found: FloatArray = -decibels(H)
    found -= _BIT_DB * (rows.scale[:, None] + columns.scale)
    return found
