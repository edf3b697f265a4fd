"""Halves of circuits: what a state takes from the signal is a product of one row of each.

In every state 1/H is `p·r + q·s`: the row `(p, q)` of all that comes before a cut, and the column
`(r, s)` of all behind it. So 1/|H|² is a sum of four products of real numbers, of `left_forms` and
`right_forms`. Where the cut is an isolator it is one product, of the 1/|H|² of both sides.
"""

from __future__ import annotations

import math
from functools import cached_property
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.metrics import HIGHEST_HZ, POINTS, SEARCH, STEP

if TYPE_CHECKING:
    from typing import Any, TypeAlias

    from numpy.typing import DTypeLike, NDArray

    from sigsim.physics.arrays import ComplexArray, FloatArray

    Single: TypeAlias = NDArray[np.float32]
    Index: TypeAlias = NDArray[np.int64]
    Real: TypeAlias = NDArray[np.floating[Any]]

REACH: Final = 3
# The searched grid with guard points at both ends, so that every peak has all its points around it.
GRID: Final = HIGHEST_HZ * STEP ** -np.arange(-REACH, POINTS + REACH, dtype=float)
GRID[REACH : REACH + POINTS] = SEARCH[::-1]
LEVEL_POINT: Final = POINTS + REACH - 1
INNER: Final = slice(REACH, REACH + POINTS)

# Points of a stretch, which have one bound; a window is a stretch with its neighbours.
STRETCH: Final = 10
STRETCHES: Final = POINTS // STRETCH
WINDOW: Final = STRETCH + 2 * REACH

# Least reciprocal of a gain over that at 100 Hz [-]: a circuit without loss has nothing left.
LEAST, LEAST_SINGLE = 1e-150, 1e-38
# Between these single precision has room for a product of two, and for a sum of them.
_TAME: Final = (1e-18, 1e18)


def left_forms(p: ComplexArray, q: ComplexArray) -> FloatArray:
    """Return the forms of left rows, in the order that `right_forms` has too.

    Parameters
    ----------
    p, q : [-] and [Ω] on `GRID`, shape (rows, grid)

    Returns
    -------
    shape (rows, 4, grid)
    """
    across = p * np.conj(q)
    return np.stack((_square(p), _square(q), 2 * across.real, -2 * across.imag), axis=1)


def right_forms(r: ComplexArray, s: ComplexArray) -> FloatArray:
    """Return the forms of right columns.

    Parameters
    ----------
    r, s : [-] and [S] on `GRID`, shape (rows, grid)

    Returns
    -------
    shape (rows, 4, grid)
    """
    across = r * np.conj(s)
    return np.stack((_square(r), _square(s), across.real, across.imag), axis=1)


def _square(z: ComplexArray) -> FloatArray:
    square: FloatArray = z.real**2 + z.imag**2
    return square


class Scratch:
    """Memory that one thread uses again and again, so that none is asked for block by block."""

    def __init__(self) -> None:
        self._rooms: dict[str, NDArray[Any]] = {}

    def room(self, name: str, shape: tuple[int, ...], dtype: DTypeLike = np.float32) -> Any:
        """Return an array of this name; what it held is lost."""
        size = math.prod(shape)
        held = self._rooms.get(name)
        if held is None or held.size < size or held.dtype != dtype:
            held = self._rooms[name] = np.empty(size, dtype)
        return held[:size].reshape(shape)


class Half:
    """One side of many states: the forms of its rows, each over its own size at 100 Hz.

    Parameters
    ----------
    forms : of 1/|H|² on `GRID`, shape (rows, rank, grid), rank 1 or 4; see `left_forms`
    level : gain that is not in the forms [dB], shape (rows,) or one for all

    Attributes
    ----------
    forms : over the largest of their row at 100 Hz
    level : what was taken out of them, as a gain [dB], shape (rows,)
    """

    def __init__(self, forms: FloatArray, level: FloatArray | float = 0.0) -> None:
        size = np.abs(forms[:, :, LEVEL_POINT]).max(axis=1)
        with np.errstate(all="ignore"):
            self.forms: FloatArray = forms / size[:, None, None]
            self.level: FloatArray = level - 10 * np.log10(size)
        self.rank = forms.shape[1]
        if self.rank == 1:
            # Infinite times nothing is no number: nothing comes out.
            self.forms[np.isnan(self.forms)] = np.inf
            np.maximum(self.forms, LEAST, out=self.forms)

    @classmethod
    def of_gain(cls, gain: FloatArray) -> Half:
        """Return a half of which every row is a whole gain [dB] on `GRID`, shape (rows, grid)."""
        level = gain[:, LEVEL_POINT]
        with np.errstate(all="ignore"):
            return cls(np.exp((level[:, None] - gain) * (np.log(10) / 10))[:, None], level)

    @classmethod
    def nothing(cls) -> Half:
        """Return one row that changes nothing."""
        return cls(np.ones((1, 1, GRID.size)))

    def __len__(self) -> int:
        return len(self.forms)

    @cached_property
    def finite(self) -> bool:
        """Whether all forms are numbers."""
        return bool(np.isfinite(self.forms).all())

    @cached_property
    def tame(self) -> bool:
        """Whether single precision holds all forms."""
        sizes = np.abs(self.forms[:, :, INNER])
        within = (sizes >= _TAME[0]) & (sizes <= _TAME[1])
        return bool(np.all(within | (sizes == 0) | ~np.isfinite(sizes)))

    @cached_property
    def least(self) -> Single:
        """The least of each stretch but for 100 Hz, shape (stretches, rows), of rank 1."""
        inner = self.columns[INNER].reshape(STRETCHES, STRETCH, -1)
        least: Single = inner.min(axis=1)
        least[-1] = inner[-1, :-1].min(axis=0)
        return least

    @cached_property
    def columns(self) -> Single:
        """The forms in single precision, shape (grid, rows), of rank 1."""
        with np.errstate(over="ignore", under="ignore"):
            columns = np.ascontiguousarray(self.forms[:, 0].T, dtype=np.float32)
        return np.maximum(columns, np.float32(LEAST_SINGLE), out=columns)

    def factors(self, dtype: DTypeLike, share: float = 1.0) -> Real:
        """Return the forms for matrix products, shape (grid, rows, rank), of rank 4.

        Parameters
        ----------
        dtype : in which precision
        share : what the first two are multiplied by
        """
        key = np.dtype(dtype).char, share
        if key not in self._tables:
            forms = self.forms.transpose(2, 0, 1) * np.array((share, share, 1, 1))
            self._tables[key] = np.ascontiguousarray(forms, dtype=dtype)
        return self._tables[key]

    def window(self, stretch: int, dtype: DTypeLike) -> Real:
        """Return a stretch with its neighbours, shape (rows, rank · window)."""
        key = np.dtype(dtype).char, stretch
        if key not in self._windows:
            points = slice(stretch * STRETCH, stretch * STRETCH + WINDOW)
            forms = self.columns[points].T if self.rank == 1 else self.forms[:, :, points]
            flat = forms.reshape(len(self), self.rank * WINDOW)
            self._windows[key] = np.ascontiguousarray(flat, dtype=dtype)
        return self._windows[key]

    @cached_property
    def _tables(self) -> dict[tuple[str, float], Real]:
        return {}

    @cached_property
    def _windows(self) -> dict[tuple[str, int], Real]:
        return {}
