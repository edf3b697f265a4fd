"""Measures that add up over segments, so that states are ranked by them without being listed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sigsim import metrics
from sigsim.metrics import Basis, Reference, decibels, sounds
from sigsim.states.circuit import Circuit

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.physics.arrays import FloatArray


@dataclass(frozen=True)
class Measure:
    """A measure that adds up over segments.

    Attributes
    ----------
    frequency : where it is taken; it is the mean over these [Hz], shape (frequency,)
    reference : what a loss is measured against; None for the plain level
    over_level : whether the last frequency is not part of the mean but taken off it
    """

    frequency: FloatArray
    reference: Reference | None = "ideal"
    over_level: bool = False

    def of(self, gain: FloatArray, ideal: FloatArray) -> FloatArray:
        """Return the measure [dB] of segments from their gains [dB], shape (rows,)."""
        if self.reference is None:
            value = gain
        elif self.reference == "direct":
            value = -gain
        else:
            with np.errstate(invalid="ignore"):
                value = ideal - gain
        return self._taken(value)

    @property
    def weights(self) -> FloatArray:
        """What each frequency counts in it, shape (frequency,)."""
        mean = self.frequency.size - self.over_level
        weights = np.full(self.frequency.size, 1 / mean)
        if self.over_level:
            weights[-1] = -1.0
        return weights

    def column_weights(self) -> FloatArray:
        """Return what the logarithm of 1/|H| counts at each frequency, the reference's behind.

        Returns
        -------
        shape (frequency,), or (2 · frequency,) where a reference is followed
        """
        if self.reference is None:
            return -self.weights
        if self.reference == "direct":
            return self.weights
        return np.concatenate((self.weights, -self.weights))

    def offset(self, board: Board) -> float:
        """Return what the whole chain adds to the sum of its segments [dB]."""
        if self.reference != "direct":
            return 0.0
        f = np.append(self.frequency, metrics.LEVEL_HZ)
        gain = decibels(Circuit(board, f).reference((), "direct"))
        return float(self._taken(gain[:-1])) if sounds(gain[-1]) else math.nan

    def _taken(self, value: FloatArray) -> FloatArray:
        if self.over_level:
            return metrics.over_level(value)
        mean: FloatArray = value.mean(axis=-1)
        return mean


class Measures:
    """Several measures taken together: their frequencies side by side.

    Parameters
    ----------
    measures : what to take
    """

    def __init__(self, measures: Sequence[Measure]) -> None:
        self.measures = measures
        self.frequency: FloatArray = np.concatenate([m.frequency for m in measures])
        ends = np.cumsum([m.frequency.size for m in measures]).tolist()
        self._slices = [
            slice(end - m.frequency.size, end) for end, m in zip(ends, measures, strict=True)
        ]
        # All that have a reference have the same one.
        self.reference = next((m.reference for m in measures if m.reference is not None), None)
        self.follow_ideal = self.reference not in (None, "direct")

    def of(self, gain: FloatArray, ideal: FloatArray) -> FloatArray:
        """Return the measures [dB], shape (rows, measures), from gains at `frequency` [dB]."""
        columns = [
            m.of(gain[:, part], ideal[:, part])
            for m, part in zip(self.measures, self._slices, strict=True)
        ]
        return np.stack(columns, axis=1)

    def offsets(self, board: Board) -> FloatArray:
        """Return what the whole chain adds to each [dB], shape (measures,)."""
        return np.array([measure.offset(board) for measure in self.measures])


def treble(basis: Basis) -> Measure:
    """Return the treble loss as a measure."""
    return Measure(basis.frequency, basis.reference, over_level=True)


def weights_over(measure: Measure, frequency: FloatArray, columns: int) -> FloatArray:
    """Return what the logarithm of 1/|H| counts in each column of a graph.

    Parameters
    ----------
    measure : what is taken
    frequency : of the first columns, rising [Hz]; behind these come those of the reference, if any
    columns : how many there are

    Returns
    -------
    shape (columns,)
    """
    weights = np.zeros(columns)
    places = np.searchsorted(frequency, measure.frequency)
    counted = measure.column_weights()
    if counted.size > places.size:
        places = np.concatenate((places, places + frequency.size))
    np.add.at(weights, places, counted)
    return weights
