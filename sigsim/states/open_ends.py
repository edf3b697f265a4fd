"""The open ends of many beginnings of a chain at once.

A beginning is only what it can end in: one source for each thing that may be the last one on, with
the worst that came before it. A source is written with p = 1, so that q is its impedance; what p
was has been scored. What goes on behind is the same for many beginnings, which are walked on
together, their ends side by side.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from sigsim.states.options import Options, score
from sigsim.states.rows import NEPER_DB

if TYPE_CHECKING:
    from sigsim.physics.arrays import ComplexArray, FloatArray
    from sigsim.states.graph import Flags, Index

# Numbers are mixed by such a factor, odd and large.
_MIX: Final = np.int64(0x2545F4914F6CDD1D)
# Values formed at once.
_AT_ONCE: Final = 1 << 19


class Ends(NamedTuple):
    """Open ends, those of one beginning after those of another.

    Attributes
    ----------
    Z : impedances of the board and the reference [Ω], shape (columns, ends)
    base : what came before [nepers], shape (ends,)
    owner : which beginning each is an end of, rising from 0, each with one at least
    marks : numbers for the impedances of the board and the reference; the same where these are
        the same, shape (2, ends)
    """

    Z: ComplexArray
    base: FloatArray
    owner: Index
    marks: Index

    @classmethod
    def first(cls, start: ComplexArray) -> Ends:
        """Return the instrument as the only end of the only beginning; p and q, (2, columns)."""
        p, q = start[..., None]
        return cls(q / p, score(p), np.zeros(1, np.int64), np.ones((2, 1), np.int64))

    @property
    def starts(self) -> Index:
        """Where the ends of each beginning start."""
        changes = np.flatnonzero(self.owner[1:] != self.owner[:-1]) + 1
        return np.concatenate((np.zeros(1, np.int64), changes))

    def some(self, ends: Index | Flags) -> Ends:
        """Return some of the ends, of the same beginnings."""
        return Ends(self.Z[:, ends], self.base[ends], self.owner[ends], self.marks[:, ends])

    def of(self, owners: Index) -> Ends:
        """Return the ends of some beginnings, which are numbered anew."""
        starts = self.starts
        counts = np.diff(np.append(starts, self.owner.size))[owners]
        firsts = np.cumsum(counts) - counts
        index = np.arange(counts.sum()) + np.repeat(starts[owners] - firsts, counts)
        made = self.some(index)
        return made._replace(owner=np.repeat(np.arange(owners.size), counts))

    def most(self, values: FloatArray) -> FloatArray:
        """Return the largest of values over the ends of each beginning."""
        found: FloatArray = np.maximum.reduceat(values, self.starts)
        return found


def side_by_side(parts: Sequence[Ends], owners: Sequence[Index]) -> Ends:
    """Return the ends of several beginnings in order.

    Parameters
    ----------
    parts : some beginnings each
    owners : the numbers that these get
    """
    owner = np.concatenate([new[p.owner] for p, new in zip(parts, owners, strict=True)])
    order = np.argsort(owner, kind="stable")
    Z = np.concatenate([part.Z for part in parts], axis=1)[:, order]
    marks = np.concatenate([part.marks for part in parts], axis=1)[:, order]
    base = np.concatenate([part.base for part in parts])[order]
    return Ends(Z, base, owner[order], marks)


def passed(ends: Ends, options: Options) -> Ends:
    """Return the ends behind what each of them can meet."""
    size = max(1, _AT_ONCE // (len(ends.Z) * options.base.size))
    if ends.owner.size <= size:
        return _passed(ends, options)
    # Whole beginnings at once.
    starts = ends.starts
    steps = np.arange(0, ends.owner.size, size)
    cuts = np.unique(starts[np.searchsorted(starts, steps, "right") - 1])
    parts, owners = [], []
    for low, high in zip(cuts, [*cuts[1:], ends.owner.size], strict=True):
        part = ends.some(slice(low, high))  # type: ignore[arg-type]
        first = int(part.owner[0])
        parts.append(_passed(part._replace(owner=part.owner - first), options))
        owners.append(np.arange(first, int(part.owner[-1]) + 1))
    return side_by_side(parts, owners)


def _passed(ends: Ends, options: Options) -> Ends:
    whole = options.whole
    parts = []
    if whole.any():
        parts.append(_behind_isolators(ends, options.some(whole)))
    if not whole.all():
        parts.append(_behind_others(ends, options.some(~whole)))
    if len(parts) == 1:
        return parts[0]
    own = np.arange(int(ends.owner[-1]) + 1)
    return side_by_side(parts, [own, own])


def _arriving(ends: Ends, options: Options) -> tuple[ComplexArray, FloatArray]:
    """Return p behind each option, shape (columns, options, ends), and what this scores."""
    C = options.matrices[2][:, :, None]
    p = 1.0 + ends.Z[:, None] * C
    return p, score(p) + options.base[:, None] + ends.base


def _behind_isolators(ends: Ends, options: Options) -> Ends:
    """Return one end for each output of isolators: what came before counts by its worst alone."""
    _, found = _arriving(ends, options)
    best = np.maximum.reduceat(found, ends.starts, axis=1)
    marks, first, group = np.unique(options.marks, axis=1, return_index=True, return_inverse=True)
    beginnings = best.shape[1]
    worst = np.full((first.size, beginnings), -np.inf)
    np.maximum.at(worst, group.ravel(), best)
    return Ends(
        np.tile(options.matrices[1][:, first], (1, beginnings)),
        worst.T.ravel(),
        np.repeat(np.arange(beginnings), first.size),
        np.tile(marks, (1, beginnings)),
    )


def _behind_others(ends: Ends, options: Options) -> Ends:
    p, base = _arriving(ends, options)
    B, D = options.matrices[1][:, :, None], options.matrices[3][:, :, None]
    Z = (B + ends.Z[:, None] * D) / p
    half = len(Z) // 2
    marks = np.empty((2, *base.shape), np.int64)
    for side, columns in enumerate((slice(0, half), slice(half, None))):
        cuts, met = options.cuts[side], options.marks[side][:, None]
        if cuts.any():
            Z[columns, cuts] = B[columns, cuts]
        marks[side] = np.where(met == 0, ends.marks[side], ends.marks[side] * _MIX + met)
        marks[side] = np.where(cuts[:, None], met, marks[side])
    count = options.base.size
    owner = np.tile(ends.owner, count)
    made = Ends(Z.reshape(len(Z), -1), base.ravel(), owner, marks.reshape(2, -1))
    if count == 1 and not options.cuts.any():
        return made
    return _merged(made)


def _merged(ends: Ends) -> Ends:
    """Return of ends of one beginning that are the same the one with the worst before it."""
    order = np.lexsort((-ends.base, ends.marks[1], ends.marks[0], ends.owner))
    keys = np.stack((ends.owner, *ends.marks))[:, order]
    new = np.append(True, (keys[:, 1:] != keys[:, :-1]).any(axis=0))
    return ends.some(order[new])


class Columns(NamedTuple):
    """What can follow, as columns with r = 1.

    Attributes
    ----------
    Y : admittances of the board and the reference [S], shape (columns, kinds)
    base : what r scores, and what follows [nepers], shape (kinds,)
    """

    Y: ComplexArray
    base: FloatArray

    @classmethod
    def last(cls, end: ComplexArray) -> Columns:
        """Return the destination; r and s, shape (2, columns)."""
        r, s = end[..., None]
        return cls(s / r, score(r))

    def before(self, options: Options) -> Columns:
        """Return what follows before some options."""
        _, B, C, D = options.matrices[..., None]
        r = 1.0 + B * self.Y[:, None]
        Y = (C + D * self.Y[:, None]) / r
        base = score(r) + options.base[:, None] + self.base
        return Columns(Y.reshape(len(Y), -1), base.ravel())._unlike()

    def _unlike(self) -> Columns:
        """Return of columns that are the same the worst."""
        if self.base.size == 1:
            return self
        keys = np.round(self.Y * 1e4, 11).T.copy().view(float) + 0.0
        order = np.argsort(-self.base, kind="stable")
        _, first = np.unique(keys[order], axis=0, return_index=True)
        kept = np.sort(order[first])
        return Columns(self.Y[:, kept], self.base[kept])


def largest(ends: Ends, columns: Columns) -> FloatArray:
    """Return the worst loss [dB] of each beginning with what follows, shape (beginnings,)."""
    worst = np.full(ends.base.size, -np.inf)
    for number in range(columns.base.size):
        found = score(1.0 + ends.Z * columns.Y[:, number, None]) + columns.base[number]
        np.maximum(worst, found, out=worst)
    return ends.most(worst + ends.base) * NEPER_DB
