"""A graph of chain matrices: every way through it is one state of a board.

Between two nodes stands a bundle of options, one for each thing that an item can be: off or on, a
loop out, each load that a split can be. A source is written as a row p = 1/E, q = Z/E, so that an
item is a linear map, ``p' = A·p + C·q``, ``q' = B·p + D·q``, and 1/H of a state is a row times
the matrices of its edges times the column (r, s) = (1, Y) of the destination: ``p·r + q·s``. An
isolator is such a matrix too, of rank one. The reference of a state goes the same way in columns
of its own, in which what it does not have is the identity.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from typing import TypeAlias

    from numpy.typing import NDArray

    from sigsim.items.base import Item
    from sigsim.physics.arrays import ComplexArray

    Flags: TypeAlias = NDArray[np.bool_]
    Index: TypeAlias = NDArray[np.int64]

# Stands for an infinite attenuation [-] at some frequencies.
NOTHING: Final = 1e60


class Choice(NamedTuple):
    """What one option stands for.

    Attributes
    ----------
    on : the names of what is on
    free : what else may be on or off without being heard
    """

    on: tuple[str, ...] = ()
    free: tuple[Item, ...] = ()


@dataclass(frozen=True)
class Bundle:
    """Edges from one node to another.

    Attributes
    ----------
    tail, head : nodes
    choices : what each option stands for
    matrices : chain matrices A, B, C, D, shape (4, options, columns)
    cuts : whether what follows sees neither the board nor the reference before it, shape (options,)
    """

    tail: int
    head: int
    choices: tuple[Choice, ...]
    matrices: ComplexArray
    cuts: Flags

    def columns(self, columns: Index) -> Bundle:
        """Return it with some of its columns."""
        return replace(self, matrices=self.matrices[..., columns])

    def turned(self, last: int) -> Bundle:
        """Return it as seen from the other end: the transposed matrices."""
        tail, head = last - self.head, last - self.tail
        return replace(self, tail=tail, head=head, matrices=self.matrices[[0, 2, 1, 3]])


@dataclass(frozen=True)
class Graph:
    """All states of a board.

    Attributes
    ----------
    nodes : how many; 0 is the instrument, the last one the destination
    bundles : in the order of their heads, so that what leads to a node comes before what leaves it
    start : p and q of the instrument, shape (2, columns)
    end : r and s of the destination, shape (2, columns)
    places : the nodes at the places of the chain that were to be kept as such
    """

    nodes: int
    bundles: tuple[Bundle, ...]
    start: ComplexArray
    end: ComplexArray
    places: Mapping[int, int]

    def columns(self, columns: Index) -> Graph:
        """Return the graph with some of its columns."""
        bundles = tuple(bundle.columns(columns) for bundle in self.bundles)
        start, end = self.start[:, columns], self.end[:, columns]
        return replace(self, bundles=bundles, start=start, end=end)

    def turned(self) -> Graph:
        """Return the graph walked from the destination to the instrument."""
        last = self.nodes - 1
        bundles = [bundle.turned(last) for bundle in self.bundles]
        bundles.sort(key=lambda bundle: (bundle.head, bundle.tail))
        places = {index: last - node for index, node in self.places.items()}
        return Graph(self.nodes, tuple(bundles), self.end, self.start, places)

    def between(self, first: int, last: int, start: ComplexArray, end: ComplexArray) -> Graph:
        """Return the part from one node to another, which every way passes.

        Parameters
        ----------
        first, last : the nodes
        start, end : p and q at the first, r and s at the last, shape (2, …, columns)
        """
        bundles = tuple(
            replace(bundle, tail=bundle.tail - first, head=bundle.head - first)
            for bundle in self.bundles
            if first <= bundle.tail and bundle.head <= last
        )
        return Graph(last - first + 1, bundles, start, end, {})

    def leaving(self) -> list[list[Bundle]]:
        """Return the bundles that begin at each node."""
        found: list[list[Bundle]] = [[] for _ in range(self.nodes)]
        for bundle in self.bundles:
            found[bundle.tail].append(bundle)
        return found

    def arriving(self) -> list[list[Bundle]]:
        """Return the bundles that end at each node."""
        found: list[list[Bundle]] = [[] for _ in range(self.nodes)]
        for bundle in self.bundles:
            found[bundle.head].append(bundle)
        return found

    def most_rows(self) -> int:
        """Return how many rows are open at once if none is left out, at most."""
        rows = [1] + [0] * (self.nodes - 1)
        for bundle in self.bundles:
            cut = int(np.count_nonzero(bundle.cuts))
            rows[bundle.head] += cut + rows[bundle.tail] * (bundle.cuts.size - cut)
        return max(rows)

    @property
    def silent(self) -> bool:
        """Whether nothing comes from the instrument, or nothing reaches the destination."""
        return not (np.isfinite(self.start).all() and np.isfinite(self.end).all())
