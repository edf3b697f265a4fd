"""Corner and resonance of many curves at once, found as in `metrics` and read off its grid.

A curve is a product of two halves (`Product`), as 1/|H|² over that at 100 Hz, frequencies falling.
What is found is what `metrics` finds, by the same points and the same rule; only the last step is
interpolation (`peaks`) and not the exact model. The corner is a crossing between two points.
"""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.metrics import LEAST_RESONANCE_DB, POINTS, STEP, sounds
from sigsim.states.forms import (
    GRID,
    INNER,
    LEVEL_POINT,
    REACH,
    STRETCH,
    STRETCHES,
    Half,
    Scratch,
)
from sigsim.states.peaks import OFFSETS, SHARP_DB, blunt, crossings, peaks
from sigsim.states.product import BLUNT, Product

if TYPE_CHECKING:
    from typing import Any

    from numpy.typing import NDArray

    from sigsim.physics.arrays import FloatArray
    from sigsim.states.forms import Index, Single

__all__ = ["GRID", "LEVEL_POINT", "SHARP_DB", "Half", "Scratch", "Shapes"]

_SEARCHED: Final = GRID[INNER]
_LOG_GRID: Final = np.log(_SEARCHED).astype(np.float32)
_LOG_STEP: Final = np.float32(np.log(STEP))
# Half the power, as 1/|H|² over that at 100 Hz.
_HALF: Final = np.float32(2)
_LOG_HALF: Final = np.log(_HALF)
# Between two points a parabola is good enough if the curve bends on either side by less than this
# share of its fall: a line alone would be off by a 27th of a step at most, 0.11 %.
_BENT: Final = np.float32(0.3)
# Nearer [dB] to the least height of a resonance the exact model decides.
_JUST_DB: Final = 2e-4


class Shapes:
    """Corner and resonance of every row of `left` with every one of `right`.

    Parameters
    ----------
    left, right : the halves; the curves are numbered with the right rows fastest
    scratch : memory to work in, not to be used for other shapes as long as these are asked

    Attributes
    ----------
    top : the point of the searched grid at which each resonance is, once these are asked for
    """

    def __init__(self, left: Half, right: Half, scratch: Scratch) -> None:
        self._product = Product(left, right, scratch)
        self.rows = self._product.rows
        # Where something comes out; an infinite level has nothing over it either.
        level = self._product.level
        self._heard = sounds(level) & (level < np.inf)
        self._bounds = self._product.bounds()
        self._lowest: Single = self._bounds.min(axis=1)
        self._crossed: Single = scratch.room("crossed", (4, self.rows))
        self._peaked: Single = scratch.room("peaked", (OFFSETS.size, self.rows))
        self.top: Index = np.zeros(self.rows, np.int64)

    def corners(self) -> tuple[FloatArray, Index]:
        """Return the corner [Hz] of each curve, not a number for none.

        The second is the rows in which it may be off by more than 0.2 %.
        """
        last, rough = self._cross()
        beyond, low, high, before = np.log(self._crossed, out=self._crossed)
        fall = low - high
        share = (_LOG_HALF - high) / fall
        beyond, before = beyond - low - fall, fall - (high - before)
        found = last > 0
        bend = np.maximum(np.abs(beyond), np.abs(before))
        bent = np.flatnonzero(~(bend <= _BENT * fall) & found)
        # Between the two points the curve sags from the line by the mean of its bends.
        share -= share * (share - 1) * (beyond + before) / (4 * fall)
        share *= _LOG_STEP
        share += _LOG_GRID[last]
        corner = np.exp(share, out=share).astype(float)
        if bent.size:
            at, f0 = last[bent], _SEARCHED[last[bent]]
            corner[bent], too_rough = crossings(self._around(bent, at), f0, corner[bent])
            rough[bent] |= too_rough
        corner[~found] = np.nan
        return corner, np.flatnonzero(rough & found)

    def _cross(self) -> tuple[Index, NDArray[np.bool_]]:
        """Return the last point before half the power of each curve, and where it is not sure.

        What is around it goes to `_crossed`.
        """
        last, rough = np.zeros(self.rows, np.int64), self._product.doubtful.copy()
        waiting = self._heard.copy()
        for stretch in (*np.flatnonzero(self._lowest[:-1] < _HALF).tolist(), STRETCHES - 1):
            # At its end, at 100 Hz, no curve is under half the power.
            under = stretch == STRETCHES - 1 or self._bounds[stretch] < _HALF
            (rows,) = (waiting & under).nonzero()
            if not rows.size:
                continue
            power, lost = self._product.window(stretch, rows)
            rough[rows] |= lost
            at = _leading(power[REACH:-REACH] >= _HALF)
            (hit,) = (at < STRETCH).nonzero()
            at, kept = self._some(hit, at, rows)
            last[kept] = at + stretch * STRETCH
            _copy(power, at + REACH - 2, hit, self._crossed, kept)
            waiting[kept] = False
        return last, rough

    def resonances(self) -> tuple[FloatArray, FloatArray, Index]:
        """Return frequency [Hz] and height [dB] of each curve's resonance, not a number for none.

        The third is the rows in which the height may be off by more than 0.001 dB.
        """
        frequency = np.full(self.rows, np.nan)
        height = np.full(self.rows, np.nan)
        rough = self._product.doubtful.copy()
        self.top[:] = 0
        peaked = self._highest(self._heard, rough, inside=False)
        # Where it rises to the end of the grid, the highest local maximum lies lower down.
        rising = peaked & (self.top == 0)
        if rising.any():
            peaked ^= rising
            peaked |= self._highest(rising, rough, inside=True)
        rows = np.flatnonzero(peaked & (self.top < POINTS - 1))
        if not rows.size:
            return frequency, height, rows
        f, h, too_rough = self._peaks(rows)
        high = h >= LEAST_RESONANCE_DB
        frequency[rows] = np.where(high, f, np.nan)
        height[rows] = np.where(high, h, np.nan)
        too_rough |= rough[rows] | (np.abs(h - LEAST_RESONANCE_DB) < _JUST_DB)
        return frequency, height, rows[too_rough]

    def _peaks(self, rows: Index) -> tuple[FloatArray, FloatArray, NDArray[np.bool_]]:
        around = self._peaked if rows.size == self.rows else self._peaked[:, rows]
        f0 = _SEARCHED[self.top[rows]]
        found = peaks(around, f0)
        flat = blunt(around, BLUNT[self._product.rank])
        unsure = np.flatnonzero(flat & (found[1] > LEAST_RESONANCE_DB / 2))
        if unsure.size:
            exact = self._settled(rows[unsure])
            better = peaks(exact, _SEARCHED[self.top[rows[unsure]]])
            # What single precision took for a maximum may be none: the exact model decides.
            middle = exact[REACH]
            peaked = (middle < exact[REACH + 1]) & (middle <= exact[REACH - 1])
            better[1][~peaked] = np.nan
            better[2][~peaked] = True
            for values, put in zip(found, better, strict=True):
                values[unsure] = put
        return found

    def _settled(self, rows: Index) -> FloatArray:
        """Return 1/|H|² around the tops of some rows, put right where rounding moved them."""
        around = np.empty((OFFSETS.size, rows.size))
        moved = np.arange(rows.size)
        while moved.size:
            top = self.top[rows[moved]]
            around[:, moved] = self._around(rows[moved], top)
            step = OFFSETS[around[:, moved].argmin(axis=0)]
            lower = np.clip(top + step, 1, POINTS - 2)
            self.top[rows[moved]] = lower
            moved = moved[lower != top]
        return around

    def _highest(
        self, wanted: NDArray[np.bool_], rough: NDArray[np.bool_], *, inside: bool
    ) -> NDArray[np.bool_]:
        """Find the highest point of some curves that is over that at 100 Hz.

        It goes to `top`, and what is around it to `_peaked`.

        Parameters
        ----------
        wanted : which curves
        rough : where rounding may have taken it is set
        inside : whether only local maxima count, and not the ends of the grid

        Returns
        -------
        which of them have one
        """
        least = np.where(wanted, np.float32(1), np.float32(-np.inf))
        lowest = self._bounds.min(axis=0)
        nearest = _leading(self._bounds > lowest)
        first = lowest < least
        stretches = np.flatnonzero(self._lowest < 1).tolist()
        for stretch in stretches:
            (rows,) = (first & (nearest == stretch)).nonzero()
            self._look(stretch, rows, least, rough, inside=inside)
        # Others are looked at only if they may hold a point that is higher still.
        for stretch in stretches:
            (rows,) = ((self._bounds[stretch] < least) & (nearest != stretch)).nonzero()
            self._look(stretch, rows, least, rough, inside=inside)
        return wanted & (least < 1)

    def _look(
        self,
        stretch: int,
        rows: Index,
        least: Single,
        rough: NDArray[np.bool_],
        *,
        inside: bool,
    ) -> None:
        """Look for the highest point of some rows in a stretch; keep it where it is higher."""
        if not rows.size:
            return
        power, lost = self._product.window(stretch, rows)
        rough[rows] |= lost
        inner = power[REACH:-REACH]
        if inside:
            local = inner < power[REACH + 1 : 1 - REACH]
            local &= inner <= power[REACH - 1 : -REACH - 1]
            local[0] &= stretch > 0
            inner = np.where(local, inner, np.float32(np.inf))
        lowest = inner.min(axis=0)
        (hit,) = (lowest < least[rows]).nonzero()
        at = _leading(inner > lowest)
        at, lowest, kept = self._some(hit, at, lowest, rows)
        least[kept] = lowest
        self.top[kept] = at + stretch * STRETCH
        _copy(power, at, hit, self._peaked, kept)

    def _some(self, index: Index, *values: Any) -> tuple[Any, ...]:
        """Return values at an index; if that is all rows, without a copy."""
        if index.size == self.rows:
            return values
        return tuple(array[index] for array in values)

    def _around(self, rows: Index, at: Index) -> FloatArray:
        """Return 1/|H|² at the points around points of the searched grid, shape (7, rows)."""
        return self._product.powers(rows, OFFSETS[:, None] + (at + REACH))


def _leading(flags: NDArray[np.bool_]) -> Index:
    """Return how many are set in each column before the first that is not; less than 256."""
    for before, row in itertools.pairwise(flags):
        np.logical_and(before, row, out=row)
    count: Index = np.add.reduce(flags.view(np.uint8), axis=0, dtype=np.uint8).astype(np.int64)
    return count


def _copy(power: Single, start: Index, columns: Index, out: Single, places: Index) -> None:
    """Copy some rows of each of some columns, from a row of its own on, to places in `out`."""
    flat, at = power.ravel(), start * power.shape[1] + columns
    for values in out:
        if places.size == values.size:
            flat.take(at, out=values, mode="clip")
        else:
            values[places] = flat.take(at, mode="clip")
        at += power.shape[1]
