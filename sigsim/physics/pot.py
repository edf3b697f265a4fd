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
    bridge : admittance [S] across the part of the track above the wiper
    """

    track: Value
    a: Value
    bridge: Impedance = 0.0

    @property
    def upper(self) -> Impedance:
        """The impedance [Ω] between the wiper and the upper end of the track."""
        R = (1 - np.asarray(self.a, dtype=float)) * self.track
        bridged: Impedance = R / (1 + R * self.bridge)
        return bridged

    @property
    def lower(self) -> Value:
        """The resistance [Ω] between the wiper and ground."""
        return self.a * self.track

    @property
    def scaled(self) -> TwoPort:
        """The chain matrix times a, which is finite at 0: series upper part, then the lower one."""
        return TwoPort(
            self.a + self.upper / self.track, self.a * self.upper, 1 / self.track, self.a
        )

    @property
    def matrix(self) -> TwoPort:
        """The chain matrix; infinite at 0."""
        return self.scaled.times(1 / np.asarray(self.a, dtype=float))

    def admittance(self, Y: Impedance) -> Impedance:
        """Return the admittance [S] seen into it with load `Y` [S] at its output."""
        return self.scaled.admittance(Y)

    def drive(self, source: Source) -> Source:
        """Return the source at the wiper: a divider with both parts in parallel behind it."""
        above: Impedance = source.Z + self.upper
        share = self.lower / (above + self.lower)
        return Source(source.E * share, above * share)


@dataclass(frozen=True)
class BackwardDivider(Divider):
    """The same pot the other way round: the source at the wiper, the end of the track the output.

    At a = 0 the source is shorted and not the output: E = 0 and Z is the upper part.
    """

    @property
    def scaled(self) -> TwoPort:
        """The chain matrix times a: the lower part to ground, then the upper one in series."""
        return TwoPort(
            self.a, self.a * self.upper, 1 / self.track, self.a + self.upper / self.track
        )

    def drive(self, source: Source) -> Source:
        """Return the source at the end of the track."""
        total = np.asarray(source.Z + self.lower)
        share = self.lower / np.where(total == 0, 1.0, total)
        return Source(source.E * share, source.Z * share + self.upper)
