"""A uniform distributed line (RLGC) that has no special cases.

The textbook chain matrix is A = D = cosh(γl), B = Zc·sinh(γl), C = sinh(γl)/Zc, with
γ² = z·y, Zc² = z/y for the series impedance z and shunt admittance y per metre (telegrapher's
equations; D. M. Pozar, *Microwave Engineering*, chapter 2, from memory).

Zc is undefined where y = 0, although the line then is just a series impedance. Written with
sinh(x)/x, which is smooth at 0, B = z·l·(sinh x / x) and C = y·l·(sinh x / x) hold for every line.
Multiplied through by exp(-x) nothing overflows, however long or lossy the line is.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sigsim.physics.source import Source, Step, TwoPort

if TYPE_CHECKING:
    from sigsim.physics.arrays import ComplexArray, Impedance, Value

# Below this |x| the series 1 + x²/6 is exact to a double and avoids 0/0.
_SMALL = 1e-4


@dataclass(frozen=True)
class Line(Step):
    """A line of one length as a chain matrix with a common factor taken out.

    Attributes
    ----------
    scaled : the chain matrix times exp(-γl)
    decay : exp(-γl), shape (..., frequency)
    """

    scaled: TwoPort
    decay: Impedance

    @property
    def matrix(self) -> TwoPort:
        """The chain matrix with the common factor in it; infinite for an endless line."""
        return self.scaled.times(1 / np.asarray(self.decay))

    def drive(self, source: Source) -> Source:
        """Return the source behind this line; it does not overflow."""
        behind = self.scaled.drive(source)
        return Source(behind.E * self.decay, behind.Z)

    def admittance(self, Y: Impedance) -> Impedance:
        """Return the admittance [S] seen into the line with load `Y` [S] at its far end."""
        return self.scaled.admittance(Y)


def line(
    jw: ComplexArray, R: Value, L: Value, C: Value, loss_tangent: Value, length: Value
) -> Line:
    """Return a uniform line.

    Parameters
    ----------
    jw : jω [rad/s], shape (frequency,)
    R, L, C : series resistance [Ω/m], series inductance [H/m], shunt capacitance [F/m]
    loss_tangent : of the dielectric [-]; G' = ω·C'·tanδ
    length : [m]

    Returns
    -------
    Line for the whole length
    """
    z = (R + jw * L) * length
    y = (jw * C + jw.imag * C * loss_tangent) * length
    x = np.sqrt(z * y)  # the principal root: Re x >= 0, so exp(-x) never grows
    decay = np.exp(-x)
    square = decay * decay
    small = np.abs(x) < _SMALL
    sinhc = decay * (1 + x * x / 6) if small.all() else _sinhc(x, decay, small)
    cosh = (1 + square) / 2
    return Line(TwoPort(cosh, z * sinhc, y * sinhc, cosh), decay)


def _sinhc(x: ComplexArray, decay: ComplexArray, small: np.ndarray) -> ComplexArray:
    """Return exp(-x)·sinh(x)/x without loss of digits near 0."""
    value: ComplexArray = decay * (1 + x * x / 6)
    large = ~small
    far = x[large]  # only there, because this is what takes longest of a line
    value[large] = -np.expm1(-2 * far) / (2 * far)
    return value
