"""What a measure is of the values of 1/|H|² in the columns of a graph."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from sigsim.metrics import LEVEL_HZ

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.metrics import Reference
    from sigsim.physics.arrays import FloatArray
    from sigsim.states.measure import Measure

# Decibels of one neper of power.
NEPER_DB: Final = float(10 / np.log(10))
# So many values can be multiplied before anything overflows.
_FACTORS: Final = 7
# Added to sums of logarithms, so that none is below zero.
UP: Final = 4096.0


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
        self.unit = NEPER_DB / count
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
            return max(0.0, nepers + UP)
        return math.exp(nepers) if nepers < math.log(np.finfo(float).max) else math.inf

    def value(self, bits: int) -> float:
        """Return the measure [dB] of a key, as bits."""
        key = float(np.array(bits, np.int64).view(float))
        return self.unit * (key - UP if self.sums else float(np.log(key))) + self.offset

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
