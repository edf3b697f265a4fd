"""The way of a cable: straight out of a jack, round the outlines, straight into the other jack."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

from sigsim.layout.grid import End, shortest
from sigsim.layout.plug import room

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sigsim.layout.exact import Rect, Spot
    from sigsim.layout.jacks import At


class Plugged(NamedTuple):
    """A jack with a plug in it.

    Attributes
    ----------
    jack : where it is
    end : where the plug ends
    length : that goes straight out [nm]
    tight : there is less room than the plug is long
    """

    jack: At
    end: End
    length: int
    tight: bool


def plugged(jack: At, outlines: Sequence[Rect], length: int) -> Plugged:
    """Return a jack with a plug in it.

    Parameters
    ----------
    jack : where it is
    outlines : of all boxes [nm]
    length : of the plug [nm]
    """
    free = room(jack, outlines, length)
    (x, y), (dx, dy) = jack
    end = End((x + dx * free, y + dy * free), jack.out if free else None)
    return Plugged(jack, end, free, free < length)


def between(outlines: Sequence[Rect], begin: Plugged | Spot, end: Plugged) -> list[Spot] | None:
    """Return the corners of the shortest way from a jack, or a spot without one, to a jack [nm].

    Parameters
    ----------
    outlines : of all boxes [nm]
    begin, end : of the way
    """
    start = begin.end if isinstance(begin, Plugged) else End(begin)
    found = shortest(outlines, start, end.end)
    if found is None:
        return None
    first = [begin.jack.spot] if isinstance(begin, Plugged) else []
    return _corners([*first, *found, end.jack.spot])


def length_of(corners: Sequence[Spot]) -> int:
    """Return how long a line through corners is [nm].

    Parameters
    ----------
    corners : neighbours differ in x or in y [nm]
    """
    return sum(abs(x - u) + abs(y - v) for (x, y), (u, v) in pairwise(corners))


def _corners(spots: Sequence[Spot]) -> list[Spot]:
    """Leave out what is no corner; where a way turns back on itself is one."""
    found: list[Spot] = []
    for spot in spots:
        if found and spot == found[-1]:
            continue
        if len(found) > 1 and _heading(found[-2], found[-1]) == _heading(found[-1], spot):
            found.pop()
        found.append(spot)
    return found


def _heading(begin: Spot, end: Spot) -> Spot:
    return _sign(end[0] - begin[0]), _sign(end[1] - begin[1])


def _sign(number: int) -> int:
    return (number > 0) - (number < 0)
