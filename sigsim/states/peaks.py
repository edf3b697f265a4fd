"""Where curves cross half the power and where they peak, between the points of a grid.

Given are reciprocal powers 1/|H|² at seven points, the middle one at the crossing or the peak.
Around a resonance of coil and capacitance 1/|H|² is the reciprocal of a polynomial in f²: for R-L-C
it is exactly a quadratic in f², however sharp the peak, and what the rest of the chain does to it
over a few grid steps is nearly linear. So it is interpolated by its polynomial in f², where a
parabola through decibels would miss a sharp peak by far. Where this may be too rough, it says so.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.metrics import STEP
from sigsim.states.forms import REACH

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sigsim.physics.arrays import FloatArray
    from sigsim.states.forms import Real, Single

OFFSETS: Final = np.arange(-REACH, REACH + 1)
# Position of the points as u = ((f/f0)² - 1)/scale, about -1 … 1.
_SCALE: Final = STEP ** (2 * REACH) - 1
_U: Final = (STEP ** (-2.0 * OFFSETS) - 1) / _SCALE
_ABOVE, _BELOW = float(_U[REACH - 1]), float(_U[REACH + 1])
_TO_POLYNOMIAL: Final = np.linalg.inv(np.vander(_U, increasing=True))
_NEWTON_STEPS: Final = 3
# The same through the five inner points, to see how far the polynomial can be trusted.
_INNER_FIVE: Final = np.zeros((5, _U.size))
_INNER_FIVE[:, 1:-1] = np.linalg.inv(np.vander(_U[1:-1], increasing=True))
# A corner by which the two polynomials differ more [-] may be off by 0.2 %.
_DIFFERENT: Final = 5e-4
# A peak over this height [dB] is too sharp for the grid to give 0.001 dB; so is one where one of
# the last two coefficients is more than this share of the minimum.
SHARP_DB, _ROUGH = 20.0, 0.1
# A peak between two points is at most so much higher in power: of a circuit almost without loss
# rounding may leave nothing, or less, of the reciprocal.
_LEAST_SHARE: Final = 1e-6
# A reciprocal power may be infinite; in a polynomial less must do.
_BOUND: Final = 1e30


def crossings(
    around: FloatArray, f0: FloatArray, start: FloatArray
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Return where curves that bend cross half the power [Hz], and where that may be too rough.

    Parameters
    ----------
    around : 1/|H|² over that at 100 Hz, shape (7, rows)
    f0 : the last point of the grid before the crossing [Hz], shape (rows,)
    start : where the crossing is about [Hz], shape (rows,)
    """
    c = _TO_POLYNOMIAL @ around
    u = ((start / f0) ** 2 - 1) / _SCALE
    for _ in range(_NEWTON_STEPS):
        value, slope = _horner(c, u), _horner(_derived(c), u)
        u = np.clip(np.where(slope > 0, u - (value - 2) / slope, u), 0.0, _ABOVE)
    # Between two points as well: at a point of the grid all polynomials agree.
    five = _INNER_FIVE @ around
    apart = [np.abs(_horner(c, v) - _horner(five, v)) for v in (u, 0 * u + _ABOVE / 2)]
    slope = (around[REACH - 1] - around[REACH]) / _ABOVE
    off = (np.maximum(*apart) + np.abs(_horner(c, u) - 2)) / slope * _SCALE / 2
    return f0 * np.sqrt(1 + u * _SCALE), ~((off >= 0) & (off < _DIFFERENT))


def peaks(around: Real, f0: FloatArray) -> tuple[FloatArray, FloatArray, NDArray[np.bool_]]:
    """Return frequency [Hz] and height [dB] of peaks, and which are too rough.

    Parameters
    ----------
    around : 1/|H|² over that at 100 Hz, shape (7, rows)
    f0 : the middle point [Hz], shape (rows,)
    """
    if not around.max() < _BOUND:
        around = np.minimum(around, _BOUND)
    c = _TO_POLYNOMIAL.astype(around.dtype) @ around
    u = _minimum(c)
    least = _horner(c, u)
    rough = np.maximum(np.abs(c[-2]), np.abs(c[-1])) > _ROUGH * least
    height = -10 * np.log10(np.maximum(least, _LEAST_SHARE * c[0]))
    rough |= height > SHARP_DB
    u *= _SCALE
    u += 1
    return f0 * np.sqrt(u), height.astype(float), rough


def blunt(around: Single, least: float) -> NDArray[np.bool_]:
    """Return which peaks rise less than a share over six steps of the grid on both sides."""
    middle = around[REACH]
    flat: NDArray[np.bool_] = np.less(around[0] + around[-1] - 2 * middle, least * middle)
    return flat


def _minimum(c: Real) -> Real:
    """Return where polynomials have their minimum near 0, by Newton's method on the slope."""
    first = _derived(c)
    second = _derived(first)
    slope, bend = first[0], second[0]
    u: Real = np.zeros_like(slope)
    low, high = 1.2 * _BELOW, 1.2 * _ABOVE
    for step in range(_NEWTON_STEPS):
        if step:
            slope, bend = _horner(first, u), _horner(second, u)
        move = np.where(bend > 0, slope / bend, 0)
        np.subtract(u, move, out=u)
        np.clip(u, low, high, out=u)
    return u


def _derived(c: Real) -> Real:
    """Return the derivatives of polynomials, the lowest coefficient first."""
    derived: Real = c[1:] * np.arange(1, len(c), dtype=c.dtype)[:, None]
    return derived


def _horner(c: Real, u: Real) -> Real:
    """Return the values of polynomials, each at a place of its own."""
    value: Real = c[-1].copy()
    for coefficient in c[-2::-1]:
        value *= u
        value += coefficient
    return value
