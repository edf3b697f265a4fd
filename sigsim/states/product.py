"""Every row of a left half with every row of a right one, in the parts that are looked for.

Where something is looked for in many states, it is first looked for among bounds: no value of a
stretch of the grid is under the bound of this stretch, so that only the few stretches with a bound
under a limit are looked into.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.states.forms import (
    INNER,
    LEAST,
    LEAST_SINGLE,
    LEVEL_POINT,
    STRETCH,
    STRETCHES,
    WINDOW,
    Half,
    Scratch,
)

if TYPE_CHECKING:
    from numpy.typing import DTypeLike, NDArray

    from sigsim.physics.arrays import FloatArray
    from sigsim.states.forms import Index, Real, Single

# A window of all rows costs less than windows of more than this share of them.
_MANY: Final = 0.4
# Of four products that may cancel, single precision is off by less than this share of the first
# two, which are never negative and no less than half of all: seven roundings of 6e-8, doubled.
_SLACK: Final = 2e-6
# What is less than this share of the first two is found again in double precision: over it single
# precision is right to 1e-4, a two-thousandth of a decibel.
_WEAK: Final = 1e-2
# Peaks that rise less [-] over six steps of the grid on both sides single precision finds no better
# than to a thousandth: errors of 1e-7 of one product, 1e-5 of a sum of four.
BLUNT: Final = {1: 2e-3, 4: 5e-2}
# Less than this share of them is rounding, even in double precision, after all that the rows went
# through.
_LOST: Final = 1e-9


class Product:
    """Every row of a left half with every row of a right one, the right ones fastest.

    Parameters
    ----------
    left, right : the halves, both of the same rank
    scratch : memory to work in

    Attributes
    ----------
    rows : how many
    level : the gain at 100 Hz [dB], shape (rows,)
    doubtful : where rounding may have taken it, shape (rows,)
    """

    def __init__(self, left: Half, right: Half, scratch: Scratch) -> None:
        self.left, self.right, self.scratch = left, right, scratch
        self.rank, self._shape = left.rank, (len(left), len(right))
        self.rows = len(left) * len(right)
        self.level: FloatArray = np.add.outer(left.level, right.level).ravel()
        self.doubtful = self._none = np.zeros(self.rows, dtype=bool)
        self._dtype: DTypeLike = np.float32
        if self.rank != 1:
            self._dtype = np.float32 if left.tame and right.tame else np.float64
            one, two = left.forms[:, :, LEVEL_POINT], right.forms[:, :, LEVEL_POINT].T
            at, certain = (one @ two).ravel(), (one[:, :2] @ two[:2]).ravel()
            self.doubtful = at < _LOST * certain
            np.maximum(at, _LOST * certain, out=at)
            self.level -= 10 * np.log10(at)
            self._inverse: FloatArray = 1 / at

    def bounds(self) -> Single:
        """Return what no 1/|H|² over that at 100 Hz is under, shape (stretches, rows).

        The last stretch ends at 100 Hz; this point, always 1, is not counted.
        """
        found: Single = self.scratch.room("bounds", (STRETCHES, self.rows))
        if self.rank == 1:
            one, two = self.left.least, self.right.least
            np.multiply(one[:, :, None], two[:, None], out=found.reshape(-1, *self._shape))
            return found
        before = self.left.factors(self._dtype, 1 - _SLACK)[INNER]
        behind = self.right.factors(self._dtype)[INNER].transpose(0, 2, 1)
        powers = self.scratch.room("powers", (STRETCH, *self._shape), self._dtype)
        scale = self._inverse.astype(np.float32)
        for number, bound in enumerate(found):
            points = slice(number * STRETCH, (number + 1) * STRETCH)
            np.matmul(before[points], behind[points], out=powers)
            counted = powers[:-1] if number == STRETCHES - 1 else powers
            least = np.fmin.reduce(counted, axis=0).ravel()
            np.multiply(least, scale, out=bound, casting="same_kind")
        # Not a number: nothing comes out.
        return np.fmin(found, np.float32(np.inf), out=found)

    def window(self, stretch: int, rows: Index) -> tuple[Single, NDArray[np.bool_]]:
        """Return 1/|H|² over that at 100 Hz in a stretch with its neighbours.

        Parameters
        ----------
        stretch : its number
        rows : which, shape (rows,); all of them are in order

        Returns
        -------
        shape (points, rows), good until the next call; and where rounding may have taken it
        """
        if rows.size > _MANY * self.rows:
            found, weak = self._whole_window(stretch)
            if rows.size < self.rows:
                found, weak = found.take(rows, axis=1), weak[rows]
        else:
            found, weak = self._some_windows(stretch, rows, self._dtype, _WEAK)
        again = np.flatnonzero(weak)
        if not again.size:
            return found, weak
        exact, lost = self._some_windows(stretch, rows[again], float, _LOST)
        found[:, again] = exact
        weak[again] = lost
        return found, weak

    def powers(self, rows: Index, points: Index) -> FloatArray:
        """Return 1/|H|² over that at 100 Hz in double precision, at points of `GRID`.

        Parameters
        ----------
        rows : shape (rows,)
        points : shape (points, rows)

        Returns
        -------
        shape (points, rows)
        """
        left, right = np.divmod(rows, len(self.right))
        terms = self.left.forms[left, :, points] * self.right.forms[right, :, points]
        if self.rank == 1:
            return terms[..., 0]
        power: FloatArray = terms.sum(axis=2) * self._inverse[rows]
        return np.maximum(np.fmin(power, np.inf), LEAST)

    def _whole_window(self, stretch: int) -> tuple[Single, NDArray[np.bool_]]:
        """Return a window of all rows, and where it is weak."""
        points = slice(stretch * STRETCH, stretch * STRETCH + WINDOW)
        shape = WINDOW, *self._shape
        power = self.scratch.room("window", shape, self._dtype)
        if self.rank == 1:
            one, two = self.left.columns[points], self.right.columns[points]
            np.multiply(one[:, :, None], two[:, None], out=power)
            return power.reshape(WINDOW, self.rows), self._none
        before = self.left.factors(self._dtype)[points]
        behind = self.right.factors(self._dtype)[points].transpose(0, 2, 1)
        np.matmul(before, behind, out=power)
        certain = self.scratch.room("certain", shape, self._dtype)
        share = np.array(_WEAK, self._dtype)
        np.matmul(before[:, :, :2] * share, behind[:, :2], out=certain)
        weak = np.logical_or.reduce(power < certain, axis=0).ravel()
        return self._over_level(power.reshape(WINDOW, -1), self._inverse), weak

    def _some_windows(
        self, stretch: int, rows: Index, dtype: DTypeLike, share: float
    ) -> tuple[Single, NDArray[np.bool_]]:
        """Return windows of some rows, and where they are less than a share of two products."""
        left, right = np.divmod(rows, len(self.right))
        terms = self.left.window(stretch, dtype).take(left, axis=0)
        terms *= self.right.window(stretch, dtype).take(right, axis=0)
        if self.rank == 1:
            return np.ascontiguousarray(terms.T), self._none[: rows.size]
        first, second, third, fourth = terms.reshape(-1, 4, WINDOW).swapaxes(0, 1)
        power = first + second
        certain = power * np.array(share, power.dtype)
        power += third
        power += fourth
        weak = np.logical_or.reduce(power < certain, axis=1)
        return self._over_level(np.ascontiguousarray(power.T), self._inverse[rows]), weak

    def _over_level(self, power: Real, inverse: FloatArray) -> Single:
        power *= inverse.astype(power.dtype)
        if not (self.left.finite and self.right.finite):
            # Not a number: nothing comes out.
            np.fmin(power, np.inf, out=power)
        np.maximum(power, LEAST_SINGLE, out=power)
        return power.astype(np.float32, copy=False)
