"""Potentiometers: from a knob's position to the divider on its track."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.physics.source import Source, Step, TwoPort

if TYPE_CHECKING:
    from sigsim.physics.arrays import Impedance, Value

LINEAR: Final = 0.5
# Fraction of the track below the wiper at mid-travel: common practice, from memory.
AUDIO: Final = 0.1


def fraction(position: Value, midpoint: float) -> Value:
    """Return the part of the track that lies below the wiper.

    Parameters
    ----------
    position : of the knob, 0 to 10
    midpoint : the fraction at position 5: 0.5 is a linear taper, 0.1 the usual audio taper

    Returns
    -------
    fraction a, 0 to 1: `(b^(p/10) - 1)/(b - 1)` with `b = (1/m - 1)²`, the exponential curve
    through 0, the midpoint and 1
    """
    if midpoint == LINEAR:
        return position / 10
    b = (1 / midpoint - 1) ** 2
    share: Value = (b ** (position / 10) - 1) / (b - 1)
    return share


@dataclass(frozen=True)
class Divider(Step):
    """A pot across the line, its wiper the output.

    Attributes
    ----------
    track : end-to-end resistance [Ω], more than zero
    a : fraction of the track below the wiper; at 0 the output is shorted: E = Z = 0
    """

    track: Value
    a: Value

    @property
    def matrix(self) -> TwoPort:
        """The upper part in series, then the lower one to ground; infinite at 0."""
        a, track = np.asarray(self.a, dtype=float), np.asarray(self.track, dtype=float)
        return TwoPort(1 / a, (1 - a) * track, 1 / (a * track), 1.0)

    @property
    def scaled(self) -> TwoPort:
        """The chain matrix times a, which is finite at 0."""
        return TwoPort(1.0, self.a * (1 - self.a) * self.track, 1 / self.track, self.a)

    def admittance(self, Y: Impedance) -> Impedance:
        """Return the admittance [S] seen into the track with load `Y` [S] at the wiper."""
        lower = self.a * self.track
        return 1 / ((1 - self.a) * self.track + lower / (1 + lower * Y))

    def drive(self, source: Source) -> Source:
        """Return the source at the wiper: a divider with both parts in parallel behind it."""
        upper: Impedance = source.Z + (1 - self.a) * self.track
        lower = self.a * self.track
        share = lower / (upper + lower)
        return Source(source.E * share, upper * share)
