"""Corner and resonance of many curves at once, read off one grid as exactly as off the model.

A curve is the sum of a left and a right part (`Shapes`), in decibels over its level at 100 Hz,
frequencies falling along the row. Two facts make a grid of 200 points enough. The corner is a
crossing between two points. And a resonance of coil and capacitance is, in power, the reciprocal
of a polynomial in f²: for R-L-C 1/|H|² is exactly a quadratic in f², however sharp the peak, and
what the rest of the chain does to it over a few grid steps is nearly linear. So 1/|H|² at seven
points around the peak is interpolated by its polynomial in f² and minimised, where a parabola
through decibels would miss a sharp peak by far.
"""

from __future__ import annotations

import math
from functools import cached_property
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.metrics import HALF_POWER_DB, HIGHEST_HZ, LEAST_RESONANCE_DB, LEVEL_HZ

if TYPE_CHECKING:
    from typing import TypeAlias

    from numpy.typing import NDArray

    from sigsim.physics.arrays import FloatArray

    Single: TypeAlias = NDArray[np.float32]
    Index: TypeAlias = NDArray[np.int64]

POINTS: Final = 200
_REACH: Final = 3
_STEP: Final = float((HIGHEST_HZ / LEVEL_HZ) ** (1 / (POINTS - 1)))
# The searched grid with guard points at both ends, so that every peak has all its points around it.
GRID: Final = HIGHEST_HZ * _STEP ** -np.arange(-_REACH, POINTS + _REACH, dtype=float)
GRID[-1 - _REACH] = LEVEL_HZ
LEVEL_POINT: Final = POINTS + _REACH - 1

_LOG_GRID: Final = np.log(GRID[_REACH : _REACH + POINTS]).astype(np.float32)
_LOG_STEP: Final = np.float32(-np.log(1 / _STEP))

_INNER: Final = slice(_REACH, _REACH + POINTS)
_OFFSETS: Final = np.arange(-_REACH, _REACH + 1)
# Position of the points as u = ((f/f0)² - 1)/scale, about -1 … 1.
_SCALE: Final = _STEP ** (2 * _REACH) - 1
_U: Final = (_STEP ** (-2.0 * _OFFSETS) - 1) / _SCALE
_ABOVE, _BELOW = float(_U[_REACH - 1]), float(_U[_REACH + 1])
_TO_POLYNOMIAL: Final = np.linalg.inv(np.vander(_U, increasing=True))
_NEWTON_STEPS: Final = 3
# Between two points a line is good enough if the curve bends by less than this share of its fall.
_BENT: Final = 0.15
# A curve that comes this close [dB] under the threshold above its corner is looked at again.
_GRAZING_DB: Final = 0.05
_SUSPECTS: Final = 2048
# A peak over this height [dB] is too sharp for the grid to give 0.001 dB; so is one where the last
# coefficient but one is more than this share of the minimum, and then it may be off by so much.
SHARP_DB, _ROUGH, _ROUGH_DB = 20.0, 0.1, 0.05
# A peak between two points is at most so much higher in power: of a circuit almost without loss
# rounding may leave nothing, or less, of the reciprocal.
_LEAST_SHARE: Final = 1e-6


class Half:
    """One side of the sums: rows of gains, in the forms that the search needs.

    Parameters
    ----------
    gain : [dB] on `GRID`, shape (rows, grid)
    """

    def __init__(self, gain: FloatArray) -> None:
        with np.errstate(invalid="ignore"):
            self.over_level: FloatArray = gain - gain[:, LEVEL_POINT, None]

    def __len__(self) -> int:
        return len(self.over_level)

    @cached_property
    def single(self) -> Single:
        """The searched grid in single precision."""
        return self.over_level[:, _INNER].astype(np.float32)

    @cached_property
    def power(self) -> FloatArray:
        """The reciprocal 1/|H|² on the whole grid, flat."""
        power: FloatArray = np.exp(self.over_level * (-math.log(10) / 10)).ravel()
        return power

    @cached_property
    def least_fall(self) -> FloatArray:
        """The least that any row falls from each point of the searched grid to the one above."""
        fall: FloatArray = np.diff(self.over_level[:, _INNER], axis=1).min(axis=0)
        return fall

    def part(self, start: int, stop: int) -> Half:
        """Return some rows."""
        return Half(self.over_level[start:stop])


class Shapes:
    """Corner and resonance of curves that are sums: every row of `left` with every one of `right`.

    Parameters
    ----------
    left, right : the halves; the curves are numbered with the right rows fastest
    scratch : memory to work in
    """

    def __init__(self, left: Half, right: Half, scratch: Scratch) -> None:
        self.left, self.right = left, right
        self.rows = len(left) * len(right)
        self._last, self._top = np.empty(self.rows, np.int64), np.empty(self.rows, np.int64)
        self._around = np.empty((3, self.rows), np.float32)
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
            last, top, flat = self._last[rows], self._top[rows], curves.ravel()
            np.argmax(above, axis=1, out=last)
            np.argmax(curves, axis=1, out=top)
            flat.take(ends + top, out=self._height[rows], mode="clip")
            for steps, values in enumerate(self._around[:, rows]):
                flat.take(ends + np.maximum(last - steps, 0), out=values, mode="clip")

    def corners(self) -> FloatArray:
        """Return the corner [Hz] of each curve, not a number for none."""
        last = self._last
        high, low, beyond = self._around
        fall = high - low
        with np.errstate(divide="ignore", invalid="ignore"):
            share = (high + np.float32(HALF_POWER_DB)) / fall
            bent = np.flatnonzero(np.abs(high - 2 * low + beyond) > _BENT * fall)
            corner = np.exp(_LOG_GRID[last] + _LOG_STEP * share).astype(float)
        corner[bent] = self._crossings(bent, last[bent], corner[bent])
        for row in self._grazing_rows().tolist():
            corner[row] = self._grazing(row, corner[row])
        corner[last == 0] = np.nan
        return corner

    def _crossings(self, rows: Index, last: Index, start: FloatArray) -> FloatArray:
        """Return corners [Hz] again where the curve bends, by the polynomial around them."""
        c = self._polynomials(rows, last)
        f0 = GRID[_INNER][last]
        u = ((start / f0) ** 2 - 1) / _SCALE
        for _ in range(_NEWTON_STEPS):
            value, slope = _horner(c, u), _horner(_derived(c), u)
            with np.errstate(invalid="ignore", divide="ignore"):
                u = np.clip(np.where(slope > 0, u - (value - 2) / slope, u), 0.0, _ABOVE)
        return f0 * np.sqrt(1 + u * _SCALE)

    def _grazing_rows(self) -> Index:
        """Return the curves that come close under the threshold again above their corner."""
        fall = self.left.least_fall + self.right.least_fall
        # Above this point every curve falls with frequency and cannot come close again.
        falling = int(np.argmin(np.append(fall, -1.0) > 0))
        found = []
        suspects = np.flatnonzero(self._last > falling + 1)
        for start in range(0, suspects.size, _SUSPECTS):
            rows = suspects[start : start + _SUSPECTS]
            left, right = np.divmod(rows, len(self.right))
            curves = self.left.single[left] + self.right.single[right]
            beyond = np.arange(POINTS) < self._last[rows, None] - 1
            close = (curves > -HALF_POWER_DB - _GRAZING_DB) & beyond
            found.append(rows[close.any(axis=1)])
        return np.concatenate(found) if found else suspects

    def _grazing(self, row: int, corner: float) -> float:
        """Return the corner of a curve with a peak close under the threshold above its corner.

        Between grid points such a peak may still pass the threshold, and then the corner lies on
        its far side.
        """
        beyond = self._curve(row)[: self._last[row] - 1]
        for peak in _local_maxima(beyond):
            if beyond[peak] > -HALF_POWER_DB - _GRAZING_DB:
                f, h, _ = self._peaks(np.array([row]), np.array([peak]))
                if h[0] > -HALF_POWER_DB:
                    return float(f[0])
        return corner

    def resonances(self) -> tuple[FloatArray, FloatArray, Index]:
        """Return frequency [Hz] and height [dB] of each curve's resonance, not a number for none.

        The third is the rows in which the height may be off by more than 0.001 dB.
        """
        frequency = np.full(self.rows, np.nan)
        height = np.full(self.rows, np.nan)
        top, seen = self._top, self._height
        rising = np.flatnonzero(top == 0)
        if rising.size:
            # Unless the end of the grid has a maximum beside it, the highest lies lower down.
            rising = rising[~(self._peaks(rising, top[rising])[0] < HIGHEST_HZ * (1 - 1e-6))]
        inside = np.ones(self.rows, bool)
        for row in rising.tolist():
            curve = self._curve(row)
            top[row] = _highest_inside(curve)
            seen[row] = curve[top[row]]
            inside[row] = top[row] > 0
        peaked = np.flatnonzero(inside & (top < POINTS - 1) & (seen > -LEAST_RESONANCE_DB))
        if not peaked.size:
            return frequency, height, peaked
        f, h, rough = self._peaks(peaked, top[peaked])
        high = h >= LEAST_RESONANCE_DB
        frequency[peaked[high]], height[peaked[high]] = f[high], h[high]
        return frequency, height, peaked[rough & (high | (h > LEAST_RESONANCE_DB - _ROUGH_DB))]

    def _peaks(self, rows: Index, top: Index) -> tuple[FloatArray, FloatArray, NDArray[np.bool_]]:
        """Return frequency [Hz] and height [dB] of peaks near grid points, and which are rough."""
        c = self._polynomials(rows, top)
        u = _minimum(c)
        least = _horner(c, u)
        with np.errstate(invalid="ignore", divide="ignore"):
            height = -10 * np.log10(np.maximum(least, _LEAST_SHARE * c[0]))
        rough = (height > SHARP_DB) | (np.abs(c[-2]) > _ROUGH * least)
        return GRID[_INNER][top] * np.sqrt(1 + u * _SCALE), height, rough

    def _polynomials(self, rows: Index, at: Index) -> FloatArray:
        """Return the polynomials in u through 1/|H|² around grid points, shape (7, rows)."""
        left, right = np.divmod(rows, len(self.right))
        left *= GRID.size
        right *= GRID.size
        left += at
        right += at
        one, two = self.left.power, self.right.power
        around = np.empty((_OFFSETS.size, rows.size))
        for point, values in enumerate(around):
            np.multiply(one.take(left + point), two.take(right + point), out=values)
        polynomials: FloatArray = _TO_POLYNOMIAL @ around
        return polynomials

    def _curve(self, row: int) -> FloatArray:
        """Return one curve [dB] on the searched grid."""
        left, right = divmod(row, len(self.right))
        curve: FloatArray = (
            self.left.over_level[left, _INNER] + self.right.over_level[right, _INNER]
        )
        return curve


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


def _local_maxima(curve: FloatArray) -> Index:
    """Return where one curve has local maxima, its ends apart."""
    inside = (curve[1:-1] > curve[2:]) & (curve[1:-1] >= curve[:-2])
    found: Index = np.flatnonzero(inside) + 1
    return found


def _highest_inside(curve: FloatArray) -> int:
    """Return the highest local maximum of one curve, 0 if there is none."""
    peaks = _local_maxima(curve)
    return int(peaks[np.argmax(curve[peaks])]) if peaks.size else 0
