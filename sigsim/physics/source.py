"""A Thévenin source (E, Z) and the three things that can happen to it.

One sign convention everywhere: a two-port's port 1 faces the instrument, port 2 the destination,
and I2 flows out of port 2::

        I1 →  ┌─────────┐  → I2
     +  ──────┤ A     B ├──────  +
     V1       │         │       V2          V1 = A·V2 + B·I2
     -  ──────┤ C     D ├──────  -          I1 = C·V2 + D·I2
              └─────────┘

A load is an admittance, so that an open end is 0 and no infinity ever enters.
Equations: the chain matrix of any circuits textbook; a Thévenin source through it follows by
setting V1 = E - Z·I1.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple, Protocol

if TYPE_CHECKING:
    from sigsim.physics.arrays import ComplexArray, FloatArray, Impedance


class Source(NamedTuple):
    """A Thévenin source.

    Attributes
    ----------
    E : open-circuit voltage [V], shape (..., frequency)
    Z : output impedance [Ω], same shape
    """

    E: Impedance
    Z: Impedance

    def into(self, Y: Impedance) -> Impedance:
        """Return the voltage [V] across a load admittance `Y` [S]: `E / (1 + Z·Y)`."""
        return self.E / (1 + self.Z * Y)


class TwoPort(NamedTuple):
    """A passive run as its chain matrix.

    Attributes
    ----------
    A : voltage ratio [-], shape (..., frequency) or a scalar
    B : transfer impedance [Ω]
    C : transfer admittance [S]
    D : current ratio [-]
    """

    A: Impedance
    B: Impedance
    C: Impedance
    D: Impedance

    def drive(self, source: Source) -> Source:
        """Return the source behind this two-port: `E/(A + Z·C)`, `(B + Z·D)/(A + Z·C)`."""
        E, Z = source
        inverse = 1 / (self.A + Z * self.C)
        return Source(E * inverse, (self.B + Z * self.D) * inverse)

    def then(self, following: TwoPort) -> TwoPort:
        """Return the cascade of this two-port and the `following` one (matrix product)."""
        A, B, C, D = self
        a, b, c, d = following
        return TwoPort(A * a + B * c, A * b + B * d, C * a + D * c, C * b + D * d)

    def admittance(self, Y: Impedance) -> Impedance:
        """Return the admittance [S] seen into port 1 with load `Y` [S] at port 2."""
        return (self.C + self.D * Y) / (self.A + self.B * Y)


class Isolator(NamedTuple):
    """A powered stage: what follows does not see what came before.

    Attributes
    ----------
    Y : input admittance [S]
    g : voltage from the input terminals to the open output [-]
    Z : output impedance [Ω]
    """

    Y: Impedance
    g: Impedance
    Z: Impedance

    def drive(self, source: Source) -> Source:
        """Return the source behind this stage: `g·E/(1 + Z·Y)` at the stage's own output."""
        return Source(self.g * source.into(self.Y), self.Z)


class Step(Protocol):
    """Anything a source can be sent through."""

    def drive(self, source: Source, /) -> Source:
        """Return the source behind this step."""


def wire() -> TwoPort:
    """Return the two-port that changes nothing."""
    return TwoPort(1.0, 0.0, 0.0, 1.0)


def series(Z: Impedance) -> TwoPort:
    """Return a series impedance `Z` [Ω]."""
    return TwoPort(1.0, Z, 0.0, 1.0)


def shunt(Y: Impedance) -> TwoPort:
    """Return a shunt admittance `Y` [S]."""
    return TwoPort(1.0, 0.0, Y, 1.0)


def angular(frequency: FloatArray) -> ComplexArray:
    """Return jω [rad/s] for `frequency` [Hz], shape (frequency,)."""
    jw: ComplexArray = (2j * math.pi * frequency).astype(complex, copy=False)
    return jw


def capacitor(jw: ComplexArray, C: Impedance) -> Impedance:
    """Return the impedance [Ω] of a capacitor `C` [F], more than zero."""
    return 1 / (jw * C)
