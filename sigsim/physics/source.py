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
from abc import ABC, abstractmethod
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

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


class Load(NamedTuple):
    """An input that ends a run.

    Attributes
    ----------
    Y : its admittance [S]
    share : of the voltage across it that is read [-], None for all of it
    """

    Y: Impedance
    share: Impedance | None = None

    def reads(self, source: Source) -> Impedance:
        """Return the voltage [V] that is read where a source drives it."""
        V = source.into(self.Y)
        return V if self.share is None else V * self.share


class Step(ABC):
    """Anything a source can be sent through: a chain matrix, whatever form it is kept in."""

    @property
    @abstractmethod
    def matrix(self) -> TwoPort:
        """The chain matrix."""

    @property
    def input(self) -> Impedance:
        """The admittance [S] seen into port 1 while port 2 is open: `C/A`."""
        matrix = self.matrix
        return matrix.C / matrix.A

    @property
    def output(self) -> Source:
        """The source at port 2 with 1 V across port 1: `E = 1/A`, `Z = B/A`."""
        matrix = self.matrix
        return Source(1 / matrix.A, matrix.B / matrix.A)

    def admittance(self, Y: Impedance) -> Impedance:
        """Return the admittance [S] seen into port 1 with load `Y` [S] at port 2."""
        A, B, C, D = self.matrix
        return (C + D * Y) / (A + B * Y)

    def drive(self, source: Source) -> Source:
        """Return the source behind this step: `E/(A + Z·C)`, `(B + Z·D)/(A + Z·C)`."""
        matrix, (E, Z) = self.matrix, source
        inverse = 1 / (matrix.A + Z * matrix.C)
        return Source(E * inverse, (matrix.B + Z * matrix.D) * inverse)


@dataclass(frozen=True)
class TwoPort(Step):
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

    def __iter__(self) -> Iterator[Impedance]:
        yield from (self.A, self.B, self.C, self.D)

    @property
    def matrix(self) -> TwoPort:
        """Itself."""
        return self

    def then(self, following: TwoPort) -> TwoPort:
        """Return the cascade of this two-port and the `following` one (matrix product)."""
        A, B, C, D = self
        a, b, c, d = following
        return TwoPort(A * a + B * c, A * b + B * d, C * a + D * c, C * b + D * d)

    def times(self, factor: Impedance) -> TwoPort:
        """Return the matrix with every entry multiplied by a factor."""
        return TwoPort(self.A * factor, self.B * factor, self.C * factor, self.D * factor)


@dataclass(frozen=True)
class Isolator(Step):
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

    @property
    def matrix(self) -> TwoPort:
        """The chain matrix of rank one, `1/g`, `Z/g`, `Y/g`, `Y·Z/g`; infinite without gain."""
        inverse = 1 / np.asarray(self.g)
        return TwoPort(1.0, self.Z, self.Y, self.Y * self.Z).times(inverse)

    @property
    def input(self) -> Impedance:
        """The input admittance [S]; no rounding, and without gain too."""
        return self.Y

    @property
    def output(self) -> Source:
        """The source behind it with 1 V at its input."""
        return Source(self.g, self.Z)

    def drive(self, source: Source) -> Source:
        """Return the source behind this stage: `g·E/(1 + Z·Y)` at the stage's own output."""
        return Source(self.g * source.into(self.Y), self.Z)


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
