"""Corner and resonance of many curves at once, found as in `metrics` and read off its grid.

A curve is the sum of a left and a right part (`Shapes`), in decibels over its level at 100 Hz,
frequencies falling along the row. What is found is what `metrics` finds, by the same points and the
same rule; only the last step is interpolation and not the exact model. The corner is a crossing
between two points. And a resonance of coil and capacitance is, in power, the reciprocal
of a polynomial in f²: for R-L-C 1/|H|² is exactly a quadratic in f², however sharp the peak, and
what the rest of the chain does to it over a few grid steps is nearly linear. So 1/|H|² at seven
points around the peak is interpolated by its polynomial in f² and minimised, where a parabola
through decibels would miss a sharp peak by far. Where this may be too rough, it says so.
"""

from __future__ import annotations

import math
from functools import cached_property
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.metrics import (
    HALF_POWER_DB,
    HIGHEST_HZ,
    LEAST_RESONANCE_DB,
    POINTS,
    SEARCH,
    STEP,
    sounds,
)

if TYPE_CHECKING:
    from typing import TypeAlias

    from numpy.typing import NDArray

    from sigsim.physics.arrays import FloatArray

    Single: TypeAlias = NDArray[np.float32]
    Index: TypeAlias = NDArray[np.int64]

_REACH: Final = 3
# The searched grid with guard points at both ends, so that every peak has all its points around it.
GRID: Final = HIGHEST_HZ * STEP ** -np.arange(-_REACH, POINTS + _REACH, dtype=float)
GRID[_REACH : _REACH + POINTS] = SEARCH[::-1]
LEVEL_POINT: Final = POINTS + _REACH - 1

_LOG_GRID: Final = np.log(GRID[_REACH : _REACH + POINTS]).astype(np.float32)
_LOG_STEP: Final = np.float32(np.log(STEP))

_INNER: Final = slice(_REACH, _REACH + POINTS)
_OFFSETS: Final = np.arange(-_REACH, _REACH + 1)
# Position of the points as u = ((f/f0)² - 1)/scale, about -1 … 1.
_SCALE: Final = STEP ** (2 * _REACH) - 1
_U: Final = (STEP ** (-2.0 * _OFFSETS) - 1) / _SCALE
_ABOVE, _BELOW = float(_U[_REACH - 1]), float(_U[_REACH + 1])
_TO_POLYNOMIAL: Final = np.linalg.inv(np.vander(_U, increasing=True))
_NEWTON_STEPS: Final = 3
# The same through the five inner points, to see how far the polynomial can be trusted.
_INNER_FIVE: Final = np.zeros((5, _U.size))
_INNER_FIVE[:, 1:-1] = np.linalg.inv(np.vander(_U[1:-1], increasing=True))
# Between two points a line is good enough if the curve bends on either side by less than this
# share of its fall: the corner is then off by a 27th of a step at most, 0.11 %.
_BENT: Final = 0.3
# A corner by which the two polynomials differ more [-] may be off by 0.2 %.
_DIFFERENT: Final = 5e-4
_SUSPECTS: Final = 2048
# A peak over this height [dB] is too sharp for the grid to give 0.001 dB; so is one where the last
# coefficient but one is more than this share of the minimum.
SHARP_DB, _ROUGH = 20.0, 0.1
# Nearer [dB] to the least height of a resonance the exact model decides.
_JUST_DB: Final = 2e-4
# A peak between two points is at most so much higher in power: of a circuit almost without loss
# rounding may leave nothing, or less, of the reciprocal.
_LEAST_SHARE: Final = 1e-6
# Stands for an infinite gain [dB]; nothing at all weighs more. As a power, less must do.
_BOUND_DB, _POWER_BOUND_DB = 1e5, 1500.0


class Half:
    """One side of the sums: rows of gains, in the forms that the search needs.

    Parameters
    ----------
    gain : [dB] on `GRID`, shape (rows, grid)
    """

    def __init__(self, gain: FloatArray) -> None:
        self.level: FloatArray = gain[:, LEVEL_POINT]
        with np.errstate(invalid="ignore"):
            over = gain - self.level[:, None]
        nothing = -2 * _BOUND_DB
        self.over_level: FloatArray = np.nan_to_num(
            over, nan=nothing, posinf=_BOUND_DB, neginf=nothing
        )

    def __len__(self) -> int:
        return len(self.over_level)

    @cached_property
    def single(self) -> Single:
        """The searched grid in single precision."""
        return self.over_level[:, _INNER].astype(np.float32)

    @cached_property
    def power(self) -> FloatArray:
        """The reciprocal 1/|H|² on the whole grid, flat."""
        bounded = np.clip(self.over_level, -_POWER_BOUND_DB, _POWER_BOUND_DB)
        power: FloatArray = np.exp(bounded * (-math.log(10) / 10)).ravel()
        return power


class Shapes:
    """Corner and resonance of curves that are sums: every row of `left` with every one of `right`.

    Parameters
    ----------
    left, right : the halves; the curves are numbered with the right rows fastest
    scratch : memory to work in

    Attributes
    ----------
    top : the point of the searched grid at which each resonance is, once these are asked for
    """

    def __init__(self, left: Half, right: Half, scratch: Scratch) -> None:
        self.left, self.right = left, right
        self.rows = len(left) * len(right)
        self._last, self.top = np.empty(self.rows, np.int64), np.empty(self.rows, np.int64)
        self._around = np.empty((4, self.rows), np.float32)
        # Where something comes out; an infinite level has nothing over it either.
        level = (left.level[:, None] + right.level).ravel()
        self._heard = sounds(level) & (level < np.inf)
        self._height = np.empty(self.rows, np.float32)
        self._scan(scratch)

    def _scan(self, scratch: Scratch) -> None:
        """Go through all curves block by block; keep where they cross and peak."""
        one, two = self.left.single, self.right.single
        step = max(1, scratch.rows // len(two))
        for start in range(0, len(one), step):
            some = one[start : start + step]
            rows = slice(start * len(two), (start + len(some)) * len(two))
            curves, above, ends = scratch.block(len(some) * len(two))
            np.add(some[:, None], two[None], out=curves.reshape(len(some), len(two), POINTS))
            np.greater(curves, np.float32(-HALF_POWER_DB), out=above)
            last, top, flat = self._last[rows], self.top[rows], curves.ravel()
            np.argmax(above, axis=1, out=last)
            np.argmax(curves, axis=1, out=top)
            flat.take(ends + top, out=self._height[rows], mode="clip")
            for steps, values in enumerate(self._around[:, rows]):
                at = np.clip(last + 1 - steps, 0, POINTS - 1)
                flat.take(ends + at, out=values, mode="clip")

    def corners(self) -> tuple[FloatArray, Index]:
        """Return the corner [Hz] of each curve, not a number for none.

        The second is the rows in which it may be off by more than 0.2 %.
        """
        last = self._last
        before, high, low, beyond = self._around
        fall = high - low
        with np.errstate(divide="ignore", invalid="ignore"):
            share = (high + np.float32(HALF_POWER_DB)) / fall
            bend = np.maximum(np.abs(high - 2 * low + beyond), np.abs(before - 2 * high + low))
            bent = np.flatnonzero(~(bend <= _BENT * fall) & self._heard & (last > 0))
            corner = np.exp(_LOG_GRID[last] + _LOG_STEP * share).astype(float)
        corner[bent], rough = self._crossings(bent, last[bent], corner[bent])
        corner[(last == 0) | ~self._heard] = np.nan
        return corner, bent[rough]

    def _crossings(
        self, rows: Index, last: Index, start: FloatArray
    ) -> tuple[FloatArray, NDArray[np.bool_]]:
        """Return corners [Hz] again where the curve bends, by the polynomial around them."""
        around = self._powers(rows, last)
        c = _TO_POLYNOMIAL @ around
        f0 = GRID[_INNER][last]
        u = ((start / f0) ** 2 - 1) / _SCALE
        with np.errstate(all="ignore"):
            for _ in range(_NEWTON_STEPS):
                value, slope = _horner(c, u), _horner(_derived(c), u)
                u = np.clip(np.where(slope > 0, u - (value - 2) / slope, u), 0.0, _ABOVE)
            # Between two points as well: at a point of the grid all polynomials agree.
            five = _INNER_FIVE @ around
            apart = [np.abs(_horner(c, v) - _horner(five, v)) for v in (u, 0 * u + _ABOVE / 2)]
            slope = (around[_REACH - 1] - around[_REACH]) / _ABOVE
            off = (np.maximum(*apart) + np.abs(_horner(c, u) - 2)) / slope * _SCALE / 2
        return f0 * np.sqrt(1 + u * _SCALE), ~((off >= 0) & (off < _DIFFERENT))

    def resonances(self) -> tuple[FloatArray, FloatArray, Index]:
        """Return frequency [Hz] and height [dB] of each curve's resonance, not a number for none.

        The third is the rows in which the height may be off by more than 0.001 dB.
        """
        frequency = np.full(self.rows, np.nan)
        height = np.full(self.rows, np.nan)
        top, seen = self.top, self._height
        # Where it rises to the end of the grid, the highest local maximum lies lower down.
        rising = np.flatnonzero(top == 0)
        for start in range(0, rising.size, _SUSPECTS):
            rows = rising[start : start + _SUSPECTS]
            top[rows], seen[rows] = self._highest_inside(rows)
        inside = self._heard & (top > 0) & (top < POINTS - 1)
        peaked = np.flatnonzero(inside & (seen > 0))
        if not peaked.size:
            return frequency, height, peaked
        f, h, rough = self._peaks(peaked, top[peaked])
        high = h >= LEAST_RESONANCE_DB
        frequency[peaked[high]], height[peaked[high]] = f[high], h[high]
        return frequency, height, peaked[rough | (np.abs(h - LEAST_RESONANCE_DB) < _JUST_DB)]

    def _highest_inside(self, rows: Index) -> tuple[Index, Single]:
        """Return the highest local maximum of some curves, and what it is there [dB]."""
        left, right = np.divmod(rows, len(self.right))
        curves = self.left.single[left] + self.right.single[right]
        inner = curves[:, 1:-1]
        peak = (inner > curves[:, 2:]) & (inner >= curves[:, :-2])
        heights = np.where(peak, inner, np.float32(-np.inf))
        top = np.argmax(heights, axis=1)
        return top + 1, heights[np.arange(rows.size), top]

    def _peaks(self, rows: Index, top: Index) -> tuple[FloatArray, FloatArray, NDArray[np.bool_]]:
        """Return frequency [Hz] and height [dB] of peaks near grid points, and which are rough."""
        c = _TO_POLYNOMIAL @ self._powers(rows, top)
        u = _minimum(c)
        least = _horner(c, u)
        with np.errstate(all="ignore"):
            height = -10 * np.log10(np.maximum(least, _LEAST_SHARE * c[0]))
        rough = (height > SHARP_DB) | (np.abs(c[-2]) > _ROUGH * least)
        return GRID[_INNER][top] * np.sqrt(1 + u * _SCALE), height, rough

    def _powers(self, rows: Index, at: Index) -> FloatArray:
        """Return 1/|H|² at the points around grid points, shape (7, rows)."""
        left, right = np.divmod(rows, len(self.right))
        left *= GRID.size
        right *= GRID.size
        left += at
        right += at
        one, two = self.left.power, self.right.power
        around = np.empty((_OFFSETS.size, rows.size))
        for point, values in enumerate(around):
            np.multiply(one.take(left + point), two.take(right + point), out=values)
        return around


class Scratch:
    """Memory for one block of curves, used again and again by one thread.

    Parameters
    ----------
    rows : the largest number of curves in a block
    """

    def __init__(self, rows: int) -> None:
        self.rows = rows
        self._curves: Single = np.empty((rows, POINTS), dtype=np.float32)
        self._above = np.empty((rows, POINTS), dtype=bool)
        self._ends = np.arange(rows) * POINTS

    def block(self, rows: int) -> tuple[Single, NDArray[np.bool_], Index]:
        """Return room for curves, for comparisons, and where each curve begins in a flat view."""
        return self._curves[:rows], self._above[:rows], self._ends[:rows]


def _minimum(c: FloatArray) -> FloatArray:
    """Return where polynomials have their minimum near 0, by Newton's method on the slope."""
    u: FloatArray = np.zeros(c.shape[1])
    first = _derived(c)
    second = _derived(first)
    slope, bend = first[0], second[0]
    for _ in range(_NEWTON_STEPS + 1):
        with np.errstate(invalid="ignore", divide="ignore"):
            u = np.clip(np.where(bend > 0, u - slope / bend, u), 1.2 * _BELOW, 1.2 * _ABOVE)
        slope, bend = _horner(first, u), _horner(second, u)
    return u


def _derived(c: FloatArray) -> FloatArray:
    """Return the derivatives of polynomials, the lowest coefficient first."""
    derived: FloatArray = c[1:] * np.arange(1.0, len(c))[:, None]
    return derived


def _horner(c: FloatArray, u: FloatArray) -> FloatArray:
    """Return the values of polynomials, each at a place of its own."""
    value: FloatArray = c[-1].copy()
    for coefficient in c[-2::-1]:
        value *= u
        value += coefficient
    return value
