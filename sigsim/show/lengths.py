"""Lengths as a person writes them, and as a person buys them."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from sigsim.quantities import FEW_FEET, FOOT, is_imperial, on_a_tape

if TYPE_CHECKING:
    from collections.abc import Iterable

_STEP: Final = 0.1
# From this length on [m] a person buys in larger steps.
_LONG: Final = 10.0
_LONG_STEP: Final = 0.5
_FEET_STEP: Final = 0.5
# A sum of lengths is not exact to the last bit, and a step too much would be bought for it.
_SLACK: Final = 1e-6


class Feet(float):
    """A length [m] that is shown in feet, because all it is made of was written so."""

    @property
    def text(self) -> str:
        """The length as it is shown: in inches where it is short and not half feet anyway."""
        feet = self / FOOT
        if feet < FEW_FEET and abs(2 * feet - round(2 * feet)) > _SLACK:
            return f"{12 * feet:.3g} in"
        return f"{feet:.4g} ft"


class FeetAndInches(Feet):
    """A sum of lengths [m] that is shown as a tape says it: `47 ft 8 in`."""

    @property
    def text(self) -> str:
        """The length to a tenth of an inch; in inches alone where it is short."""
        return on_a_tape(self)


def sum_of(pieces: Iterable[tuple[float, int]]) -> float:
    """Return how long pieces are together, in feet if every one was written in feet or inches.

    Parameters
    ----------
    pieces : length [m] and how many
    """
    listed = list(pieces)
    if [count for _, count in listed] == [1]:
        return listed[0][0]
    total = math.fsum(length * count for length, count in listed)
    feet = bool(listed) and all(is_imperial(length) for length, _ in listed)
    return FeetAndInches(total) if feet else total


def to_buy(length: float, spare: float) -> float:
    """Return a length [m] with spare, rounded up to 10 cm, to half a metre, or to half a foot.

    Parameters
    ----------
    length : from `sum_of` [m]
    spare : share of it to add, 0.1 for 10 %
    """
    wanted = length * (1 + spare)
    if is_imperial(length):
        return FeetAndInches(_up(wanted, _FEET_STEP * FOOT))
    return _up(wanted, _STEP if wanted < _LONG else _LONG_STEP)


def in_unit_of(length: float, pieces: Iterable[float]) -> float:
    """Return a length [m] in feet where the pieces that it is about were all written so."""
    written = [piece for piece in pieces if piece]
    feet = bool(written) and all(map(is_imperial, written))
    return Feet(length) if feet else length


def rounded_down(value: float) -> float:
    """Return a number down to three digits, so that a length as it is printed keeps its limit.

    A length in feet is rounded down in feet or inches, as it is shown.
    """
    if value <= 0:
        return 0.0
    if isinstance(value, Feet):
        unit = FOOT if value >= FEW_FEET * FOOT else FOOT / 12
        return Feet(rounded_down(value / unit) * unit)
    unit = 10.0 ** (math.floor(math.log10(value)) - 2)
    return math.floor(value / unit + _SLACK) * unit


def _up(length: float, step: float) -> float:
    return math.ceil(length / step - _SLACK) * step
