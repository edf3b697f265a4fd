"""Lengths as whole nanometres.

Whether boxes touch, and whether a plug reaches an outline, must not hang on the rounding of a sum:
in binary fractions three boxes of 10 cm are a little more than 30 cm. Whole nanometres add up
exactly, what differs in a file lies far apart in them, and no length on a board comes near the
numbers that a double no longer holds.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple, TypeAlias

if TYPE_CHECKING:
    from sigsim.layout.model import Point

# A position [nm].
Spot: TypeAlias = tuple[int, int]
# Straight out of a jack: one of them is 1 or -1, the other 0.
Heading: TypeAlias = tuple[int, int]

_IN_A_METRE: Final = 10**9


class Rect(NamedTuple):
    """An outline.

    Attributes
    ----------
    left, near, right, back : its edges [nm]
    """

    left: int
    near: int
    right: int
    back: int


def whole(length: float) -> int:
    """Return a length in whole nanometres.

    Parameters
    ----------
    length : [m]
    """
    return round(float(length) * _IN_A_METRE)


def metres(length: int) -> float:
    """Return a length in metres.

    Parameters
    ----------
    length : [nm]
    """
    return length / _IN_A_METRE


def spot(point: Point) -> Spot:
    """Return a position in whole nanometres.

    Parameters
    ----------
    point : [m]
    """
    return whole(point[0]), whole(point[1])


def point(of: Spot) -> Point:
    """Return a position in metres.

    Parameters
    ----------
    of : [nm]
    """
    return metres(of[0]), metres(of[1])
