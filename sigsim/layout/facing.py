"""Plugs that face each other across a gap in which only one of them has room."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable

    from sigsim.layout.floor import Floor, Jack
    from sigsim.layout.model import Socket

# Plugs that are farther apart than this across do not meet: the sleeve of a usual one is about as
# thick, common practice, no source [m].
_THICK: Final = 0.015
# A gap of just two plugs is room for both, whatever a sum of lengths is off by [m].
_SLIP: Final = 1e-6


class Facing(NamedTuple):
    """Two plugs that face each other.

    Attributes
    ----------
    one, other : the boxes that they are plugged into
    gap : between their jacks [m]: enough for one plug, not for two
    """

    one: str
    other: str
    gap: float


def facing(floor: Floor, sockets: Iterable[Socket]) -> tuple[Facing, ...]:
    """Return the pairs of boxes whose plugs face each other with too little room for both.

    A plug that has no room of its own is left aside: that is said anyway.

    Parameters
    ----------
    floor : where boxes stand
    sockets : that have a plug in them
    """
    plug = floor.layout.plug_length
    jacks = [
        (floor.box_of(s.name), jack) for s in dict.fromkeys(sockets) if (jack := floor.jack(s))
    ]
    found: dict[tuple[str, str], Facing] = {}
    for (one, a), (other, b) in combinations(jacks, 2):
        gap = _gap(a, b)
        if one is None or other is None or one == other or gap is None:
            continue
        if plug - _SLIP <= gap < 2 * plug - _SLIP:
            found.setdefault((one, other), Facing(one, other, gap))
    return tuple(found.values())


def _gap(one: Jack, other: Jack) -> float | None:
    """Return how far two jacks are apart that face each other [m], None for any others."""
    if (one.dx, one.dy) != (-other.dx, -other.dy):
        return None
    x, y = other.x - one.x, other.y - one.y
    ahead, across = x * one.dx + y * one.dy, x * one.dy + y * one.dx
    return ahead if ahead > 0 and abs(across) < _THICK else None
