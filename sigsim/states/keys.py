"""A number for every state that is in the order of its measure, a whole block at a time.

``1/|H|² = |p·r + q·s|²`` is a sum of four products of real numbers, one factor of each from the row
and one from the column, so that all states at one frequency are one product of matrices. A measure
is a sum of logarithms of these; the states are in its order already by the product they are of.
Where the sum cancels, which it only does where nothing in the circuit takes power, it is formed
from the complex numbers.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from sigsim.metrics import LEVEL_HZ, SILENT_DB

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.metrics import Reference
    from sigsim.physics.arrays import ComplexArray, FloatArray
    from sigsim.states.graph import Flags, Index
    from sigsim.states.halves import Table
    from sigsim.states.labels import Label
    from sigsim.states.measure import Measure

# Decibels of one neper of power.
_DB: Final = float(10 / np.log(10))
# So many forms can be multiplied before anything overflows.
_FACTORS: Final = 7
# Added to sums of logarithms, so that none is below zero.
_UP: Final = 4096.0
# Angles of row and column that come nearer [rad] to cancelling than this lose digits: all but
# 1e-11 of a sum are kept.
_NEAR: Final = 0.01
_LOUD: Final = -SILENT_DB / _DB


class _Group(NamedTuple):
    """Columns of which a power is multiplied, or divided by."""

    power: int
    above: tuple[int, ...]
    below: tuple[int, ...]


class Plan:
    """What a measure is of the columns of a graph.

    Parameters
    ----------
    measure : what is taken
    board : the board

    Attributes
    ----------
    frequency : of the columns [Hz]
    ideal : whether columns of the reference come behind them
    reference : which one is followed there
    powers : of 1/|H|² in each column, shape (columns,)
    levels : the columns that tell what is silent
    offset : what the whole chain adds [dB]
    """

    def __init__(self, measure: Measure, board: Board) -> None:
        self.frequency = np.unique(np.append(measure.frequency, LEVEL_HZ))
        self.ideal = measure.reference not in (None, "direct")
        self.reference: Reference = (measure.reference if self.ideal else None) or "ideal"
        self.offset = measure.offset(board)
        size = self.frequency.size
        count = measure.frequency.size - measure.over_level
        powers = np.zeros((2, size), np.int64)
        places = np.searchsorted(self.frequency, measure.frequency)
        np.add.at(powers[0], places, np.rint(measure.weights * count).astype(np.int64))
        if measure.reference is None:
            powers[0] *= -1
        powers[1] = -powers[0]
        at_level = int(np.searchsorted(self.frequency, LEVEL_HZ))
        self.levels = (at_level, at_level + size) if self.ideal else (at_level,)
        self.powers = powers[: len(self.levels)].ravel()
        self.unit = _DB / count
        self.sums = count > _FACTORS
        self.groups = tuple(self._groups())

    def _groups(self) -> Iterator[_Group]:
        for power in np.unique(np.abs(self.powers[self.powers != 0])).tolist():
            above, below = (np.flatnonzero(self.powers == p).tolist() for p in (power, -power))
            for start in range(0, max(len(above), len(below)), _FACTORS):
                part = slice(start, start + _FACTORS)
                yield _Group(power, tuple(above[part]), tuple(below[part]))

    def key(self, value: float) -> float:
        """Return the key of a measure [dB]."""
        nepers = (value - self.offset) / self.unit
        if self.sums:
            return max(0.0, nepers + _UP)
        return math.exp(nepers) if nepers < math.log(np.finfo(float).max) else math.inf

    def value(self, bits: int) -> float:
        """Return the measure [dB] of a key, as bits."""
        key = float(np.array(bits, np.int64).view(float))
        return self.unit * (key - _UP if self.sums else float(np.log(key))) + self.offset

    def values(self, taken: FloatArray) -> FloatArray:
        """Return the measure [dB] from 1/|H|² in each column, shape (…, columns)."""
        used = np.flatnonzero(self.powers)
        with np.errstate(all="ignore"):
            value: FloatArray = np.log(taken[..., used]) @ (self.powers[used] * self.unit)
        return value + self.offset

    def width(self, low: int, high: int) -> float:
        """Return by how much measures differ at most [dB] of which the keys, as bits, are there."""
        one, other = np.array([low, high], np.int64).view(float)
        if high - low <= 1:
            return 0.0
        if not np.isfinite(other) or one <= 0:
            return math.inf
        return float(self.unit * (other - one if self.sums else np.log(other / one)))


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
        """Return the product of two tables for a measure."""
        labels = rows.labels, columns.labels
        return cls(plan, Side.of(rows, plan), Side.of(columns, plan), labels, watch)

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
        found.fill(_UP if self.plan.sums else 1.0)
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
