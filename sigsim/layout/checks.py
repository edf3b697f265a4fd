"""What is wrong with a layout: boxes in one place, and boxes that hang over the edge."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING, Final, NamedTuple

from sigsim.layout.exact import metres, spot

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from sigsim.layout.exact import Rect, Spot
    from sigsim.layout.floor import Floor


# What is less is rounding, of figures in inches for one [nm]: nobody places a box to a micrometre.
SLIP: Final = 1000


class Overhang(NamedTuple):
    """A box that hangs over an edge of the board.

    Attributes
    ----------
    name : of the box
    edge : "left", "right", "near" or "back"
    by : how far it reaches beyond that edge [m]
    """

    name: str
    edge: str
    by: float


def overlaps(floor: Floor) -> tuple[tuple[str, str], ...]:
    """Return the pairs of boxes that overlap; to touch is not to overlap.

    Parameters
    ----------
    floor : where they stand
    """
    return tuple(overlapping(floor.rects))


def overlapping(rects: Mapping[str, Rect]) -> Iterator[tuple[str, str]]:
    """Yield the pairs of boxes that overlap.

    Parameters
    ----------
    rects : their outlines [nm]
    """
    for (one, a), (other, b) in combinations(rects.items(), 2):
        if _least(a, b) > SLIP:
            yield one, other


def touches(floor: Floor, names: Iterable[str]) -> bool:
    """Return whether one of some boxes touches another box without overlapping it.

    Parameters
    ----------
    floor : where they stand
    names : of these boxes
    """
    mine = {name: floor.rects[name] for name in names if name in floor.rects}
    return any(
        name != other and -SLIP <= _least(a, b) <= SLIP
        for name, a in mine.items()
        for other, b in floor.rects.items()
    )


def _least(one: Rect, other: Rect) -> int:
    """Return how far two boxes reach into each other across or along, the less of both [nm]."""
    wide = min(one.right, other.right) - max(one.left, other.left)
    return min(wide, min(one.back, other.back) - max(one.near, other.near))


def overhangs(floor: Floor) -> tuple[Overhang, ...]:
    """Return what hangs over the edge of the board, once for each edge.

    Parameters
    ----------
    floor : where boxes stand
    """
    hanging = beyond(floor.rects, spot(floor.layout.size))
    return tuple(Overhang(name, edge, metres(by)) for (name, edge), by in hanging.items())


def beyond(rects: Mapping[str, Rect], size: Spot) -> dict[tuple[str, str], int]:
    """Return how far boxes reach beyond an edge [nm], by box and edge; only what does.

    Parameters
    ----------
    rects : their outlines [nm]
    size : of the board [nm]
    """
    reach = {
        (name, edge): by
        for name, rect in rects.items()
        for edge, by in (
            ("left", -rect.left),
            ("right", rect.right - size[0]),
            ("near", -rect.near),
            ("back", rect.back - size[1]),
        )
    }
    return {where: by for where, by in reach.items() if by > SLIP}
