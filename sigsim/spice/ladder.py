"""A fractional element as a ladder of resistors and inductors, for simulators that know no other.

With `s = jω/ω1` and 0 < n < 1 the element is a sum of resistors with an inductor across each, of
all corners x from 0 to infinity::

        s^n = sin(nπ)/π · ∫ x^n · s/(s + x) · dx/x

(Laplace's integral of a power; with `t = ln x` it is a Mellin transform, any table of integrals.)
In equal steps h of t that sum is off by `2·sin(nπ)·exp(-π²/h)` of itself, which no passive circuit
around it can make more than `4·sin(nπ/2)·exp(-π²/h)` in its response: the element's own resistive
part, `cos(nπ/2)` of it, damps whatever resonates. What lies beyond both ends of the steps becomes
one more section each, with the sum and the mean corner of all that it stands for.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.metrics import HIGHEST_HZ, LOWEST_HZ
from sigsim.physics.loss import LOSS_OMEGA

if TYPE_CHECKING:
    from sigsim.physics.arrays import FloatArray

# exp(-π²/0.7) is 8e-7.
STEP: Final = 0.7
# How far the steps go on beyond the lowest and the highest frequency, as a logarithm. Measured
# over coils of 0.05 to 25 H with 20 kΩ to 10 MΩ of loss, any exponent and any load: with it the
# response is off by 2e-5 dB and 3e-4° at most, with 3 by ten times as much.
MARGIN: Final = 4.0
# A section that is less than this of the whole is not worth its two lines.
_LEAST: Final = 1e-8
# What a netlist says of it, and a test holds; what is measured is far less.
WITHIN_DB: Final = 0.01
WITHIN_DEGREES: Final = 0.1


@dataclass(frozen=True)
class Section:
    """One resistor with one inductor across it.

    Attributes
    ----------
    R : [Ω]
    L : [H]
    """

    R: float
    L: float


def sections(R: float, n: float) -> tuple[Section, ...]:
    """Return the sections that in series are `R·(jω/ω1)^n` from 20 Hz to 40 kHz.

    Parameters
    ----------
    R : magnitude of the element at 1 kHz [Ω]
    n : its exponent, more than 0 and less than 1 [-]
    """
    low, high = (math.log(2 * math.pi * f / LOSS_OMEGA) for f in (LOWEST_HZ, HIGHEST_HZ))
    t = np.arange(low - MARGIN, high + MARGIN + STEP, STEP)
    # Close to 1 the sine would lose its digits.
    scale = STEP * math.sin(math.pi * min(n, 1 - n)) / math.pi
    before = _beyond(scale, n, t[0], 0, 1)
    after = _beyond(scale, n, t[-1], -1, -2)
    weight = np.array([before[0], *(scale * np.exp(n * t)), after[0] * after[1]])
    corner = np.array([before[1], *np.exp(t), after[1]])
    kept = _heard(weight, corner, n, math.exp(low), math.exp(high))
    return tuple(
        Section(float(w) * R, float(w) * R / (float(x) * LOSS_OMEGA))
        for w, x in zip(weight[kept], corner[kept], strict=True)
    )


def _beyond(scale: float, n: float, end: float, one: int, two: int) -> tuple[float, float]:
    """Return what all steps beyond an end are together: a sum and a mean corner.

    Below the lowest frequency `s/(s + x)` is `1 - x/s`, above the highest `s/x·(1 - s/x)`: the
    sums of `w·x^one` and of `w·x^two` make a section that is the same to that order.
    """
    first, second = (
        scale * math.exp((n + power) * end) / math.expm1(abs(n + power) * STEP)
        for power in (one, two)
    )
    return first, second / first if one == 0 else first / second


def _heard(
    weight: FloatArray, corner: FloatArray, n: float, low: float, high: float
) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Return which sections are more than nothing between two frequencies [of 1 kHz]."""
    heard: np.ndarray[tuple[int], np.dtype[np.bool_]] = (
        weight * high / np.hypot(high, corner) > _LEAST * low**n
    )
    return heard
