"""Finding a place on curves between two frequencies, closer and closer, many curves at once."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from sigsim.physics.arrays import FloatArray

    # Heights at frequencies [Hz], shape (curves, frequency) both; never not a number.
    Heights = Callable[[FloatArray], FloatArray]

# Five times a sixteenth: a step of the grid of 1200 Hz at 40 kHz becomes a millihertz.
_SHARES: Final = np.linspace(0.0, 1.0, 17)
_ZOOMS: Final = 5
# Stands for an infinite height where one is divided by.
_BOUND: Final = 1e5


def last_crossing(heights: Heights, low: FloatArray, high: FloatArray) -> FloatArray:
    """Return where curves fall through 0 for the last time.

    Parameters
    ----------
    heights : of the curves, more than 0 at `low` and not at `high`
    low, high : [Hz], shape (curves,)

    Returns
    -------
    [Hz], shape (curves,)
    """
    rows = np.arange(low.size)
    for _ in range(_ZOOMS - 1):
        f = low[:, None] + (high - low)[:, None] * _SHARES
        height = heights(f)
        above = height > 0
        above[:, 0], above[:, -1] = True, False
        i = _SHARES.size - 1 - np.argmax(above[:, ::-1], axis=1)
        low, high = f[rows, i], f[rows, i + 1]
    over, under = (np.clip(height[rows, at], -_BOUND, _BOUND) for at in (i, i + 1))
    fall = over - under
    share = np.where(fall > 0, over / np.where(fall > 0, fall, 1.0), 0.5)
    return low + np.clip(share, 0.0, 1.0) * (high - low)


def highest(heights: Heights, low: FloatArray, high: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return where curves are highest between two frequencies, and how high.

    Parameters
    ----------
    heights : of the curves, with one maximum between the two
    low, high : [Hz], shape (curves,)

    Returns
    -------
    [Hz] and height, shape (curves,) each
    """
    rows = np.arange(low.size)
    for _ in range(_ZOOMS):
        f = low[:, None] + (high - low)[:, None] * _SHARES
        height = heights(f)
        i = np.argmax(height, axis=1)
        low, high = f[rows, np.maximum(i - 1, 0)], f[rows, np.minimum(i + 1, _SHARES.size - 1)]
    return f[rows, i], height[rows, i]
