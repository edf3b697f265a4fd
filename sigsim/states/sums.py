"""Quantiles of a measure over all states, by counting sums instead of listing them.

Over all states a measure is every left sum plus every right sum (`every.EveryState.pairs`). How
many of these lie below a limit is found for each left sum by one binary search among the sorted
right ones, so that millions of states are counted with a few thousand searches, exactly.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from typing import TypeAlias

    from numpy.typing import NDArray

    from sigsim.physics.arrays import FloatArray

    Bits: TypeAlias = NDArray[np.uint64]

# Quantiles are located this closely [dB]: a hundredth of what is printed.
_CLOSE_DB: Final = 1e-4


@dataclass(frozen=True)
class _Pair:
    """Two lists of sums with what is on in each; every combination is one state."""

    left: FloatArray
    left_on: Bits
    right: FloatArray
    right_on: Bits


class Sums:
    """A measure over many states.

    Parameters
    ----------
    pairs : lists of sums; the right ones are kept sorted
    """

    def __init__(self, pairs: Sequence[_Pair]) -> None:
        self.pairs = [pair for pair in pairs if pair.left.size and pair.right.size]

    @classmethod
    def over(cls, tables: Iterable[tuple[FloatArray, Bits, FloatArray, Bits]]) -> Sums:
        """Return the sums over tables of values [dB] and bits; silent states are left out."""
        return cls([_sorted_pair(*table) for table in tables])

    @property
    def size(self) -> int:
        """How many states there are."""
        return sum(pair.left.size * pair.right.size for pair in self.pairs)

    def where(self, bit: int, on: bool) -> Sums:
        """Return only the states in which a switch is on or off."""
        return Sums([part for pair in self.pairs for part in _where(pair, bit, on)])

    def below(self, limit: float) -> int:
        """Return how many states lie below a limit [dB]."""
        return sum(
            int(np.searchsorted(pair.right, limit - pair.left, side="left").sum())
            for pair in self.pairs
        )

    def largest(self) -> float:
        """Return the largest value [dB], not a number if there is no state."""
        return max((float(p.left.max() + p.right[-1]) for p in self.pairs), default=np.nan)

    def smallest(self) -> float:
        """Return the smallest value [dB], not a number if there is no state."""
        return min((float(p.left.min() + p.right[0]) for p in self.pairs), default=np.nan)

    def quantile(self, share: float) -> float:
        """Return the value [dB] that a share of the states does not exceed, by bisection."""
        low, high = self.smallest(), self.largest()
        wanted = max(1, int(np.ceil(share * self.size)))
        if not np.isfinite(low) or not np.isfinite(high) or wanted >= self.size:
            return high
        while high - low > _CLOSE_DB:
            middle = (low + high) / 2
            if self.below(middle) >= wanted:
                high = middle
            else:
                low = middle
        return (low + high) / 2


def _sorted_pair(left: FloatArray, left_on: Bits, right: FloatArray, right_on: Bits) -> _Pair:
    heard, also = np.isfinite(left), np.flatnonzero(np.isfinite(right))
    order = also[np.argsort(right[also])]
    return _Pair(left[heard], left_on[heard], right[order], right_on[order])


def _where(pair: _Pair, bit: int, on: bool) -> Iterable[_Pair]:
    """Yield the combinations of a pair in which a switch is on or off."""
    left, right = (_has(on_bits, bit) for on_bits in (pair.left_on, pair.right_on))
    if on:
        # On in the left half, or on only in the right one: no state is counted twice.
        yield _Pair(pair.left[left], pair.left_on[left], pair.right, pair.right_on)
        yield _Pair(pair.left[~left], pair.left_on[~left], pair.right[right], pair.right_on[right])
    else:
        yield _Pair(
            pair.left[~left], pair.left_on[~left], pair.right[~right], pair.right_on[~right]
        )


def _has(on: Bits, bit: int) -> NDArray[np.bool_]:
    """Return in which rows a bit is set; rows of more than 64 switches are Python integers."""
    mask = bit if on.dtype == object else np.uint64(bit)
    found: NDArray[np.bool_] = np.asarray((on & mask) != 0, dtype=bool)
    return found
