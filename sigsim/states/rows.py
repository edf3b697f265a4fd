"""Partial states at a node as rows of arrays, and what scores them.

A row is the source p = 1/E, q = Z/E behind one way from the instrument; seen from the other end of
a graph it is a column. A score is a sum over columns of weights times logarithms of 1/|H|.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from sigsim.metrics import SILENT_DB

if TYPE_CHECKING:
    from sigsim.physics.arrays import ComplexArray, FloatArray
    from sigsim.states.graph import Bundle, Flags, Index

# Decibels of one neper.
NEPER_DB: Final = float(20 / np.log(10))
# Of 1/H, from which on nothing is heard [nepers].
SILENT: Final = -SILENT_DB / NEPER_DB
# Products formed at once.
_AT_ONCE: Final = 1 << 20
_LEAST: Final = 1e-300


@dataclass(frozen=True)
class Criteria:
    """What rows are compared by.

    Attributes
    ----------
    weights : of the logarithm of 1/|H| in each column, for each criterion: the larger the sum, the
        better; shape (columns, criteria)
    scores : how many of the criteria, the first ones, are scores; the others are how loud the
        board and its reference are, where something may be silent
    levels : the columns in which that shows
    """

    weights: FloatArray
    scores: int = 1
    levels: tuple[int, ...] = ()

    @cached_property
    def owners(self) -> Index:
        """To which score each column belongs, shape (columns,)."""
        owners: Index = np.abs(self.weights[:, : self.scores]).argmax(axis=1)
        return owners

    @classmethod
    def of(cls, weights: FloatArray, levels: Sequence[int] = ()) -> Criteria:
        """Return the criteria of scores, shape (columns, scores), and of being loud in columns."""
        loud = np.zeros((len(weights), len(levels)))
        loud[list(levels), range(len(levels))] = -1.0
        return cls(np.concatenate((weights, loud), axis=1), weights.shape[1], tuple(levels))


class Rows(NamedTuple):
    """Partial states at one node.

    Attributes
    ----------
    p, q : of each row, shape (rows, columns)
    base : what its criteria have beside those of p and q [nepers], shape (rows, criteria)
    scale : by what power of e its p and q are too small, shape (rows,)
    slack : by how much what is left out in its favour may score better [nepers], shape (rows,)
    """

    p: ComplexArray
    q: ComplexArray
    base: FloatArray
    scale: FloatArray
    slack: FloatArray

    @classmethod
    def first(cls, pq: ComplexArray, criteria: Criteria) -> Rows:
        """Return the rows at the beginning of a graph, shape (2, columns) or (2, rows, columns)."""
        p, q = np.reshape(pq, (2, -1, pq.shape[-1]))
        return cls(
            p,
            q,
            np.zeros((len(p), criteria.weights.shape[1])),
            np.zeros(len(p)),
            np.zeros(len(p)),
        )

    def some(self, rows: Index | slice | Flags) -> Rows:
        """Return some of the rows."""
        p, q, base, scale, slack = self
        return Rows(p[rows], q[rows], base[rows], scale[rows], slack[rows])

    def behind(self, bundle: Bundle, options: Index) -> Rows:
        """Return the rows behind some options, all those behind the first one first."""
        A, B, C, D = bundle.matrices[:, options, None]
        size, columns = options.size, self.p.shape[1]
        return Rows(
            (self.p * A + self.q * C).reshape(-1, columns),
            (self.p * B + self.q * D).reshape(-1, columns),
            np.tile(self.base, (size, 1)),
            np.tile(self.scale, size),
            np.tile(self.slack, size),
        )

    def scaled(self, criteria: Criteria) -> Rows:
        """Return the rows with p of about 1, so that nothing overflows."""
        size = np.log(np.abs(self.p).max(axis=1, initial=_LEAST))
        factor = np.exp(-size)[:, None]
        base = self.base + size[:, None] * criteria.weights.sum(axis=0)
        return Rows(self.p * factor, self.q * factor, base, self.scale + size, self.slack)


def joined(parts: Sequence[Rows]) -> Rows:
    """Return the rows of several arrays."""
    return Rows(*(np.concatenate(columns) for columns in zip(*parts, strict=True)))


def scores(rows: Rows, columns: Rows, criteria: Criteria) -> FloatArray:
    """Return the scores of every row with every column; minus infinity for what is silent.

    Parameters
    ----------
    rows, columns : partial states that meet at a node
    criteria : of which the scores are wanted

    Returns
    -------
    shape (rows, columns, scores) [nepers]
    """
    found = np.empty((len(rows.p), len(columns.p), criteria.scores))
    step = max(1, _AT_ONCE // (columns.p.size or 1))
    for start in range(0, len(rows.p), step):
        part = slice(start, start + step)
        H = rows.p[part, None] * columns.p + rows.q[part, None] * columns.q
        height = np.log(np.maximum(np.abs(H), _LEAST))
        found[part] = height @ criteria.weights[:, : criteria.scores]
        for level in criteria.levels:
            loud = height[..., level] + rows.scale[part, None] + columns.scale < SILENT
            found[part][~loud] = -np.inf
    found += rows.base[:, None, : criteria.scores] + columns.base[:, : criteria.scores]
    return found
