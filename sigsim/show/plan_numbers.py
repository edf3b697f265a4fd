"""Where the numbers of cables stand on the drawing of a layout, and how cables are told apart."""

from __future__ import annotations

import math
from collections import Counter
from itertools import pairwise
from typing import TYPE_CHECKING, Final, TypeAlias

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from sigsim.layout.floor import Outline
    from sigsim.layout.model import Point

    # The near left and the far right corner of a part of the board.
    Bounds: TypeAlias = tuple[Point, Point]

# Where along a piece of a way its number may stand, the best first.
_ALONG: Final = (0.5, 0.35, 0.65, 0.2, 0.8, 0.08, 0.92)
# From a line to the middle of its number [radii of a number].
_BESIDE: Final = 1.15
COLOURS: Final = 5
# Cables that come so near to each other are told apart by their colours [radii of a number].
_NEAR: Final = 3.0
# So much better a place has to be than one before it [radii of a number].
_LITTLE: Final = 0.05


def colours(ways: Sequence[Sequence[Point]], radius: float) -> list[int]:
    """Return a colour for each way, one that no way near it has where there is one left.

    Parameters
    ----------
    ways : corners of each [m]
    radius : of a number [m]
    """
    found: list[int] = []
    bounds, near = [*map(_bounds, ways)], _NEAR * radius
    for index, way in enumerate(ways):
        beside = Counter(
            colour
            for other, colour in enumerate(found)
            if _gap(bounds[index], bounds[other]) < near and _meet(way, ways[other], near)
        )
        used = Counter(found)
        found.append(min(range(COLOURS), key=lambda one: (beside[one], used[one], one)))
    return found


def places(
    ways: Sequence[Sequence[Point]], boxes: Sequence[Outline], radius: float
) -> dict[int, Point]:
    """Return for each way where its number stands, the middle of it [m].

    Parameters
    ----------
    ways : corners of each [m]
    boxes : that a number should not cover
    radius : of a number [m]
    """
    bounds, reach = [*map(_bounds, ways)], 3 * radius
    found: dict[int, Point] = {}
    # The shortest first: it has the fewest places for its number.
    for index in sorted(range(len(ways)), key=lambda i: _length(ways[i])):
        mine = bounds[index]
        near = [way for way, its in zip(ways, bounds, strict=True) if _gap(mine, its) < reach]
        standing = [box for box in boxes if _gap(mine, _diagonal(box)) < reach]
        labels = [one for one in found.values() if _gap(mine, (one, one)) < 2 * reach]
        found[index] = _label(ways[index], near, labels, standing, radius)
    return found


def _bounds(way: Sequence[Point]) -> Bounds:
    x, y = zip(*way, strict=True)
    return (min(x), min(y)), (max(x), max(y))


def _meet(one: Sequence[Point], other: Sequence[Point], near: float) -> bool:
    return any(_gap(a, b) < near for a in pairwise(one) for b in pairwise(other))


def _gap(one: tuple[Point, Point], other: tuple[Point, Point]) -> float:
    """Return how far two pieces along x or y are apart [m]."""
    apart = []
    for axis in (0, 1):
        low, high = sorted((one[0][axis], one[1][axis]))
        begin, end = sorted((other[0][axis], other[1][axis]))
        apart.append(max(0.0, begin - high, low - end))
    return math.hypot(*apart)


def _label(
    points: Sequence[Point],
    ways: Sequence[Sequence[Point]],
    labels: Sequence[Point],
    boxes: Sequence[Outline],
    radius: float,
) -> Point:
    """Return the place of a number on its cable with least in its way."""
    reach = 3 * radius
    near = [
        piece
        for one in ways
        for piece in pairwise(one)
        if any(_gap(piece, own) < reach for own in pairwise(points))
    ]
    boxes = [
        box for box in boxes if any(_gap(_diagonal(box), own) < reach for own in pairwise(points))
    ]

    def cost(place: Point) -> float:
        hidden = sum(max(0.0, 2.1 * radius - math.dist(place, one)) for one in labels)
        crossed = sum(max(0.0, radius - _from_line(place, *piece)) for piece in near)
        return 8 * hidden + crossed + sum(_in_box(place, box, radius) for box in boxes) / 2

    best, least = points[0], math.inf
    pieces = sorted(pairwise(points), key=lambda ends: -math.dist(*ends))
    for begin, end in pieces:
        for place in _places(begin, end, _BESIDE * radius):
            found = cost(place)
            if found < least - _LITTLE * radius:
                best, least = place, found
    return best


def _places(begin: Point, end: Point, away: float) -> Iterator[Point]:
    """Yield places beside a piece of a way, the best first."""
    across = (0.0, away) if begin[1] == end[1] else (away, 0.0)
    for part in _ALONG:
        x, y = (one + part * (other - one) for one, other in zip(begin, end, strict=True))
        yield x + across[0], y + across[1]
        yield x - across[0], y - across[1]


def _length(points: Sequence[Point]) -> float:
    return sum(math.dist(*ends) for ends in pairwise(points))


def _from_line(point: Point, begin: Point, end: Point) -> float:
    """Return how far a point is from a piece along x or y [m]."""
    x = min(max(point[0], min(begin[0], end[0])), max(begin[0], end[0]))
    y = min(max(point[1], min(begin[1], end[1])), max(begin[1], end[1]))
    return math.dist(point, (x, y))


def _diagonal(box: Outline) -> tuple[Point, Point]:
    return (box.x, box.y), (box.x + box.width, box.y + box.depth)


def _in_box(point: Point, box: Outline, radius: float) -> float:
    """Return how far a number reaches into a box [m]."""
    x = min(max(point[0], box.x), box.x + box.width)
    y = min(max(point[1], box.y), box.y + box.depth)
    return max(0.0, radius - math.dist(point, (x, y)))
