"""Many numbers as text at once: to the byte what `f"{value:.6g}"` gives, each in a fixed place.

Six digits are two look-ups: the first three with what stands before and between them, the last
three without the zeros at their end. What the tables do not hold, and what lies so close to the
middle between two texts that a product might round it the other way, Python formats.
"""

from __future__ import annotations

import math
from functools import cache
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import TypeAlias

    from numpy.typing import NDArray

    from sigsim.physics.arrays import FloatArray

    Bytes: TypeAlias = NDArray[np.uint8]

# Comma and sign, the first three digits, the last three; the longest text is ",-1.23457e-308".
_SIGN, _HEAD, _TAIL = slice(0, 2), slice(2, 10), slice(10, 14)
WIDTH: Final = 14
# The powers of ten that are written without an exponent, and between which values they are.
_LOWEST, _HIGHEST = -4, 5
_LEAST, _LIMIT = 1e-4, 1e6
# A double times an exact power of ten is off by half a step of a double, below a million 6e-11.
_ROUNDED: Final = 0.5 - 1e-9


class _Tables(NamedTuple):
    """What a number needs, by its binary exponent, its power of ten (from `_LOWEST`), its digits.

    Text is kept as whole words of memory, so that one look-up copies all of it.
    """

    power: NDArray[np.int32]
    next_power: FloatArray
    scale: FloatArray
    sign: NDArray[np.uint16]
    head: NDArray[np.uint64]
    tail: NDArray[np.uint32]


def put_numbers(values: FloatArray, place: Bytes) -> None:
    """Write a comma and six significant digits for each value; only the comma if it is not finite.

    Parameters
    ----------
    values : shape (columns, rows)
    place : where they go, shape (rows, columns · `WIDTH`); bytes that stay empty are zero
    """
    tables = _tables()
    size = np.abs(values)
    usual = (size >= _LEAST) & (size < _LIMIT)
    size[~usual] = 1.0
    binary = size.view(np.int64) >> 52
    power = tables.power.take(binary) + (size >= tables.next_power.take(binary))
    size *= tables.scale.take(power)
    nearest = np.rint(size)
    usual &= np.abs(size - nearest) < _ROUNDED
    digits = nearest.astype(np.int32)
    first = digits // 1000
    last = digits - 1000 * first
    sign = tables.sign.take(np.signbit(values))
    head = tables.head.take((2 * power + (last == 0)) * 1001 + first)
    tail = tables.tail.take(power * 1000 + last)
    for k, column in enumerate(values):
        cells = place[:, k * WIDTH : (k + 1) * WIDTH]
        cells[:, _SIGN].view(np.uint16)[:, 0] = sign[k]
        cells[:, _HEAD].view(np.uint64)[:, 0] = head[k]
        cells[:, _TAIL].view(np.uint32)[:, 0] = tail[k]
        if not usual[k].all():
            _put_others(column, ~usual[k], cells)


def as_rows(texts: Sequence[str], width: int) -> Bytes:
    """Return texts in UTF-8 as rows of bytes, zero behind each; shape (texts, width)."""
    rows = np.array([text.encode() for text in texts], dtype=f"S{width}")
    return rows.view(np.uint8).reshape(len(texts), width)


def _put_others(values: FloatArray, which: NDArray[np.bool_], cells: Bytes) -> None:
    """Write what the tables do not hold; where that is much, it is often the same again."""
    # Compared by their bits: zero and negative zero are two texts.
    bits, back = np.unique(values[which].view(np.int64), return_inverse=True)
    texts = [f",{v:.6g}" if math.isfinite(v) else "," for v in bits.view(np.float64).tolist()]
    cells[which] = as_rows(texts, WIDTH)[back]


@cache
def _tables() -> _Tables:
    powers = range(_LOWEST, _HIGHEST + 1)
    heads: list[str] = []
    tails: list[str] = []
    for power in powers:
        unit = 10.0 ** (power - 5)
        # The last three digits have the point before or between them at these two powers only.
        cut = len(f"{111_111 * unit:.6g}") - (4 if power in (3, 4) else 3)
        # The first three are never under 100, and 1000 where a number is rounded up to a power.
        heads += [""] * 100 + [f"{(n + 0.111) * 1000 * unit:.6g}"[:cut] for n in range(100, 1001)]
        heads += [""] * 100 + [f"{n * 1000 * unit:.6g}" for n in range(100, 1001)]
        tails += ["", *(f"{(100_000 + n) * unit:.6g}"[cut:] for n in range(1, 1000))]
    with np.errstate(all="ignore"):
        below = np.floor(np.log10(2.0 ** (np.arange(2048) - 1023.0)))
    below = np.clip(below, _LOWEST - 1, _HIGHEST)
    return _Tables(
        (below - _LOWEST).astype(np.int32),
        10.0 ** (below + 1),
        10.0 ** (5.0 - np.array(powers)),
        as_rows([",", ",-"], 2).view(np.uint16)[:, 0],
        as_rows(heads, 8).view(np.uint64)[:, 0],
        as_rows(tails, 4).view(np.uint32)[:, 0],
    )
