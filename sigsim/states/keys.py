"""A number for every state that is in the order of its measure, a whole block at a time.

``1/|H|² = |p·r + q·s|²`` is a sum of four products of real numbers, one factor of each from the row
and one from the column, so that all states at one frequency are one product of matrices. A measure
is a sum of logarithms of these; the states are in its order already by the product they are of.
Where the sum cancels, which it only does where nothing in the circuit takes power, it is formed
from the complex numbers.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.metrics import SILENT_DB
from sigsim.states.halves import OHMS
from sigsim.states.plan import NEPER_DB, UP

if TYPE_CHECKING:
    from sigsim.physics.arrays import ComplexArray, FloatArray
    from sigsim.states.graph import Flags, Index
    from sigsim.states.halves import Table
    from sigsim.states.labels import Label
    from sigsim.states.plan import Plan

# Angles of row and column that come nearer [rad] to cancelling than this lose digits: all but
# 1e-11 of a sum are kept.
_NEAR: Final = 0.01
# Ways are alike whose numbers differ by no more than this share of them, and where that may be
# silent by this [nepers]; those that are alike are put together if they leave no more than a share.
_ALIKE: Final = 1e-12
_ALIKE_LOUD: Final = 1e-9
_MANY: Final = 0.8
_LOUD: Final = -SILENT_DB / NEPER_DB


@dataclass(frozen=True)
class Side:
    """Rows, or columns, ready to be multiplied.

    Attributes
    ----------
    p, q : what is taken out of each way is put back into all of its columns alike
    loud : the logarithm of what is still too little at the levels [nepers of power], shape
        (ways, levels)
    """

    p: ComplexArray
    q: ComplexArray
    loud: FloatArray

    @classmethod
    def of(cls, table: Table, plan: Plan) -> Side:
        """Return a table for a measure."""
        scale = table.scale * (2 * math.log(2))
        spread = (scale @ plan.powers)[:, None] / max(1, int(np.abs(plan.powers).sum()))
        folded = np.clip(np.sign(plan.powers) * spread, -200.0, 200.0)
        factor = np.exp(folded / 2)
        levels = list(plan.levels)
        return cls(table.p * factor, table.q * factor, (scale - folded)[:, levels])

    def some(self, ways: Index) -> Side:
        """Return some of the ways."""
        return Side(self.p[ways], self.q[ways], self.loud[ways])


@dataclass(frozen=True)
class Product:
    """All states of some rows and some columns.

    Attributes
    ----------
    plan : of the measure
    rows, columns : the ways
    labels : of both
    watch : whether some may be silent
    """

    plan: Plan
    rows: Side
    columns: Side
    labels: tuple[Label, Label]
    watch: bool

    @classmethod
    def of(cls, rows: Table, columns: Table, plan: Plan, *, watch: bool) -> Product:
        """Return the product of two tables for a measure; ways that are alike are one.

        Their labels have to be counts, which are added up.
        """
        one, left = _united(Side.of(rows, plan), rows.labels, OHMS)
        other, right = _united(Side.of(columns, plan), columns.labels, 1 / OHMS)
        return cls(plan, one, other, (left, right), watch)

    @property
    def shape(self) -> tuple[int, int]:
        """How many rows and columns it has."""
        return len(self.rows.p), len(self.columns.p)

    def some(self, rows: Index, columns: Index) -> Product:
        """Return some of its rows with some of its columns."""
        one, other = self.labels
        chosen = self.rows.some(rows), self.columns.some(columns)
        return replace(self, rows=chosen[0], columns=chosen[1], labels=(one[rows], other[columns]))

    @cached_property
    def _left(self) -> FloatArray:
        """What rows have in the sum of four, shape (frequencies, rows, 4)."""
        p, q = self.rows.p.T, self.rows.q.T
        both = 2 * p * q.conj()
        return np.stack((_power(p), _power(q), both.real, -both.imag), axis=-1)

    @cached_property
    def _right(self) -> FloatArray:
        """What columns have in it, shape (frequencies, 4, columns)."""
        r, s = self.columns.p.T, self.columns.q.T
        both = r * s.conj()
        return np.stack((_power(r), _power(s), both.real, both.imag), axis=1)

    @cached_property
    def _near(self) -> Flags:
        """At which frequencies a row and a column may cancel, shape (frequencies,)."""
        low, high = np.zeros((2, len(self.plan.powers)))
        for side in (self.rows, self.columns):
            angle = np.angle(side.q * side.p.conj())
            low, high = low + angle.min(axis=0), high + angle.max(axis=0)
        found: Flags = (high > math.pi - _NEAR) | (low < _NEAR - math.pi)
        return found

    @cached_property
    def _loud(self) -> list[tuple[FloatArray, FloatArray]]:
        """For each level what rows multiply a sum by, and from what on it is silent in a column."""
        rows, columns = (np.clip(side.loud.T, -300.0, 300.0) for side in (self.rows, self.columns))
        return list(zip(np.exp(rows)[:, :, None], np.exp(_LOUD - columns), strict=True))

    def keys(self, rows: slice, memory: FloatArray) -> FloatArray:
        """Return the keys of all states of some rows, not a number for silent ones.

        Parameters
        ----------
        rows : which
        memory : what is written to, shape (4, at least as many rows, columns)

        Returns
        -------
        shape (rows, columns), in the memory
        """
        found: FloatArray
        found, ratio, below, spare = memory[:, : len(self.rows.p[rows])]
        found.fill(UP if self.plan.sums else 1.0)
        with np.errstate(all="ignore"):
            for group in self.plan.groups:
                self._multiplied(group.above, rows, ratio, spare)
                if group.below:
                    self._multiplied(group.below, rows, below, spare)
                    np.divide(ratio, below, out=ratio)
                if self.plan.sums:
                    found += np.multiply(np.log(ratio, out=ratio), group.power, out=ratio)
                else:
                    _multiply_power(found, ratio, group.power)
            if self.watch:
                for level, (loud, silent) in zip(self.plan.levels, self._loud, strict=True):
                    self._sum(level, rows, ratio)
                    found[~(ratio * loud[rows] < silent)] = np.nan
        return found

    def values(self, rows: Index, columns: Index) -> FloatArray:
        """Return the measure [dB] of some states, shape (states,)."""
        one, other = self.rows, self.columns
        H = one.p[rows] * other.p[columns] + one.q[rows] * other.q[columns]
        return self.plan.values(_power(H))

    def _multiplied(
        self,
        frequencies: tuple[int, ...],
        rows: slice,
        out: FloatArray,
        spare: FloatArray,
    ) -> None:
        """Write the product of the sums at some frequencies."""
        if not frequencies:
            out.fill(1.0)
        for number, frequency in enumerate(frequencies):
            self._sum(frequency, rows, spare if number else out)
            if number:
                out *= spare

    def _sum(self, frequency: int, rows: slice, out: FloatArray) -> None:
        """Write 1/|H|² at one frequency."""
        if not self._near[frequency]:
            np.matmul(self._left[frequency, rows], self._right[frequency], out=out)
            return
        p, q = self.rows.p[rows, frequency, None], self.rows.q[rows, frequency, None]
        r, s = self.columns.p[:, frequency], self.columns.q[:, frequency]
        out[:] = _power(p * r + q * s)


def _united(side: Side, labels: Label, ohms: float) -> tuple[Side, Label]:
    """Return a side of which the ways that are alike are one, if these are many."""
    every = np.concatenate((side.p, side.q / ohms), axis=1)
    every /= np.abs(every).max(axis=0, initial=np.finfo(float).tiny)
    # Ways that are alike come one after the other in the order of any sum.
    order = np.argsort((every @ np.cos(np.arange(every.shape[1]) ** 2)).real)
    steps = [np.abs(np.diff(part[order], axis=0)) for part in (every, side.loud)]
    same = (steps[0] <= _ALIKE * np.abs(every[order[1:]])).all(axis=1)
    same &= (steps[1] <= _ALIKE_LOUD).all(axis=1)
    starts = np.flatnonzero(np.append(True, ~same))
    if starts.size > _MANY * len(labels):
        return side, labels
    return side.some(order[starts]), np.add.reduceat(labels[order], starts, axis=0)


def _power(H: ComplexArray) -> FloatArray:
    power: FloatArray = H.real * H.real + H.imag * H.imag
    return power


def _multiply_power(found: FloatArray, base: FloatArray, power: int) -> None:
    """Multiply by a power of a base, which is lost."""
    while power:
        if power & 1:
            found *= base
        power >>= 1
        if power:
            base *= base
