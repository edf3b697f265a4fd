"""Whether anything of a graph can be silent: bounds on what its matrices take at 100 Hz."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.states.graph import NOTHING
from sigsim.states.rows import SILENT, Criteria, Rows

if TYPE_CHECKING:
    from sigsim.physics.arrays import FloatArray
    from sigsim.states.graph import Bundle, Flags, Graph

# Between volts and amperes [Ω]: about what a source shows there. Any value gives a bound.
SEEN_OHMS: Final = 5e4


@dataclass(frozen=True)
class Calm:
    """By how much what follows a node can take off a row at most.

    Attributes
    ----------
    levels : the columns at 100 Hz
    rest : the bound for each node and level [nepers], shape (nodes, levels)
    """

    levels: tuple[int, ...]
    rest: FloatArray

    @classmethod
    def of(cls, graph: Graph, levels: tuple[int, ...]) -> Calm:
        """Return the bounds of a graph."""
        columns = list(levels)
        rest = np.full((graph.nodes, len(levels)), -np.inf)
        r, s = np.abs(graph.end[:, columns])
        rest[-1] = np.log(np.maximum(r, s * SEEN_OHMS))
        for bundle in reversed(graph.bundles):
            taken = np.log(_norms(bundle, columns).max(axis=0))
            rest[bundle.tail] = np.maximum(rest[bundle.tail], taken + rest[bundle.head])
        return cls(levels, rest)

    def safe(self, rows: Rows, node: int) -> Flags:
        """Return which rows at a node nothing that follows can silence."""
        columns = list(self.levels)
        size = np.abs(rows.p[:, columns]) + np.abs(rows.q[:, columns]) / SEEN_OHMS
        taken = np.log(size) + rows.scale[:, None] + self.rest[node]
        found: Flags = (taken < SILENT).all(axis=1)
        return found


def audible(graph: Graph, levels: tuple[int, ...]) -> Graph:
    """Return a graph without options through which alone nothing comes at 100 Hz.

    Parameters
    ----------
    graph : of a board
    levels : its columns at 100 Hz; where one of them is silent, so is the state
    """
    bundles = []
    for bundle in graph.bundles:
        heard = (np.abs(bundle.matrices[..., list(levels)]).max(axis=0) < NOTHING).all(axis=1)
        if heard.all():
            bundles.append(bundle)
        elif heard.any():
            choices = tuple(c for c, kept in zip(bundle.choices, heard, strict=True) if kept)
            matrices, cuts = bundle.matrices[:, heard], bundle.cuts[heard]
            bundles.append(replace(bundle, choices=choices, matrices=matrices, cuts=cuts))
    return replace(graph, bundles=tuple(bundles))


def _norms(bundle: Bundle, columns: list[int]) -> FloatArray:
    """Return by what factor each option can make |p| + |q|/R larger, shape (options, levels)."""
    A, B, C, D = np.abs(bundle.matrices[..., columns])
    norms: FloatArray = np.maximum(A + B / SEEN_OHMS, C * SEEN_OHMS + D)
    return norms


def can_be_silent(graph: Graph, levels: tuple[int, ...]) -> bool:
    """Return whether the bounds leave it open that some state is silent."""
    first = Rows.first(graph.start, Criteria(np.zeros((graph.start.shape[1], 1))))
    return not bool(Calm.of(graph, levels).safe(first, 0)[0])
