"""Ways that run along one line, moved beside each other so that each is seen."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import count, pairwise
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from sigsim.layout.floor import Outline
    from sigsim.layout.model import Point

# Coordinates that are equal but for rounding: whole micrometres.
_MICRO: Final = 1e6
# A line along an outline is drawn this part of a step away from it.
_AWAY: Final = 0.6
# So near is one line to another when one has to be moved, by the step.
_CLEAR: Final = 0.7
# Where there is little room, the step is no less than this part of what was asked for.
_NEAREST: Final = 0.25


@dataclass
class _Piece:
    """A straight piece of a way.

    Attributes
    ----------
    along : 0 where it goes along x, 1 along y
    at : its coordinate across
    low, high : where it begins and ends along its line
    free : +1 or -1 where only that side has no outline on it, else 0
    plug : whether it leads to a jack
    shift : how far it is drawn from where it is; None while that is open
    """

    along: int
    at: float
    low: float
    high: float
    free: int
    plug: bool
    shift: float | None = None

    @property
    def drawn_at(self) -> float:
        """Its coordinate across as it is drawn."""
        return self.at + (self.shift or 0.0)

    def beside(self, other: _Piece) -> bool:
        """Whether one would hide the other on one line, which is drawn already."""
        same = self.along == other.along and other.shift is not None
        return same and min(self.high, other.high) - max(self.low, other.low) > 1 / _MICRO


def _equal(one: float, other: float) -> bool:
    return round(one * _MICRO) == round(other * _MICRO)


def apart(
    ways: Sequence[Sequence[Point]], outlines: Iterable[Outline], step: float
) -> list[list[Point]]:
    """Return ways that are drawn beside each other, each still beginning and ending at its jacks.

    Parameters
    ----------
    ways : corners of each [m], every piece along x or y
    outlines : of the boxes, into which nothing is moved
    step : from one line to the next [m], less where there is little room
    """
    boxes = list(outlines)
    pieces = [_pieces(_simple(way), boxes) for way in ways]
    listed = [piece for mine in pieces for piece in mine]
    step = _that_fits(listed, boxes, step)
    # Pieces at jacks first: they stay where they are, if they can.
    for piece in sorted(listed, key=lambda one: (not one.plug, one.low - one.high)):
        beside = [one for one in listed if one is not piece and piece.beside(one)]
        piece.shift = next(
            step * slot
            for slot in _slots(piece.free)
            if all(abs(piece.at + step * slot - one.drawn_at) > _CLEAR * step for one in beside)
        )
    return [_drawn(_simple(way), mine) for way, mine in zip(ways, pieces, strict=True)]


def _slots(free: int) -> Iterator[float]:
    for number in count():
        if free:
            yield free * (number + _AWAY)
        else:
            yield from (float(number), -float(number))


def _simple(way: Sequence[Point]) -> list[Point]:
    """Return the corners of a way without those that are none."""
    found: list[Point] = []
    for point in way:
        if found and _same(found[-1], point):
            continue
        if len(found) > 1 and _straight(found[-2], found[-1], point):
            found[-1] = point
        else:
            found.append(point)
    return found


def _same(one: Point, other: Point) -> bool:
    return _equal(one[0], other[0]) and _equal(one[1], other[1])


def _straight(one: Point, two: Point, three: Point) -> bool:
    return any(_equal(one[i], two[i]) and _equal(two[i], three[i]) for i in (0, 1))


def _pieces(way: Sequence[Point], boxes: Sequence[Outline]) -> list[_Piece]:
    found = []
    for begin, end in pairwise(way):
        along = 0 if _equal(begin[1], end[1]) else 1
        low, high = sorted((begin[along], end[along]))
        at = begin[1 - along]
        found.append(_Piece(along, at, low, high, _free(along, at, low, high, boxes), False))
    if found:
        found[0].plug = found[-1].plug = True
    return found


def _sides(box: Outline, along: int) -> tuple[float, float, float, float]:
    """Return where a box begins and ends along a line, and across it."""
    x, y = (box.x, box.x + box.width), (box.y, box.y + box.depth)
    return (*x, *y) if along == 0 else (*y, *x)


def _free(along: int, at: float, low: float, high: float, boxes: Sequence[Outline]) -> int:
    above = below = False
    for box in boxes:
        begin, end, near, far = _sides(box, along)
        if min(end, high) - max(begin, low) > 1 / _MICRO:
            above |= _equal(near, at)
            below |= _equal(far, at)
    return int(below) - int(above)


def _that_fits(pieces: Sequence[_Piece], boxes: Sequence[Outline], step: float) -> float:
    """Return a step with which lines along an outline stay before the next one."""
    fits = step
    for piece in pieces:
        if not piece.free:
            continue
        room = _room(piece, boxes)
        beside = sum(
            1
            for other in pieces
            if other.along == piece.along
            and min(piece.high, other.high) > max(piece.low, other.low)
            and -1 / _MICRO <= piece.free * (other.at - piece.at) <= room + 1 / _MICRO
        )
        fits = min(fits, room / (beside + 1))
    return max(fits, _NEAREST * step)


def _room(piece: _Piece, boxes: Sequence[Outline]) -> float:
    """Return how far it is from a piece to the next outline on its free side."""
    found = float("inf")
    for box in boxes:
        begin, end, near, far = _sides(box, piece.along)
        if min(end, piece.high) - max(begin, piece.low) > 1 / _MICRO:
            away = near - piece.at if piece.free > 0 else piece.at - far
            if away > 1 / _MICRO:
                found = min(found, away)
    return found


def _drawn(way: Sequence[Point], pieces: Sequence[_Piece]) -> list[Point]:
    """Return the corners of a way whose pieces were moved."""
    if not pieces:
        return list(way)
    found = [way[0]]
    for number, piece in enumerate(pieces):
        across = piece.drawn_at
        for corner, beside in ((way[number], number - 1), (way[number + 1], number + 1)):
            along = corner[piece.along]
            if 0 <= beside < len(pieces) and pieces[beside].along != piece.along:
                along = pieces[beside].drawn_at
            found.append((along, across) if piece.along == 0 else (across, along))
    return _simple([*found, way[-1]])
