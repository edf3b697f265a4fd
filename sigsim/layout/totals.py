"""The sum of all runs of one arrangement, exactly, where bounds on them are known."""

from __future__ import annotations

from itertools import combinations, pairwise
from typing import TYPE_CHECKING

from sigsim.layout.exact import whole
from sigsim.layout.jacks import jack_at
from sigsim.layout.ways import between, length_of, plugged

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from sigsim.layout.exact import Rect, Spot
    from sigsim.layout.floor import Floor
    from sigsim.layout.model import Layout, Socket
    from sigsim.layout.ways import Plugged


class Totals:
    """Sums of runs.

    Parameters
    ----------
    floor : of the layout as it is now
    links : between jacks that stand somewhere
    """

    def __init__(self, floor: Floor, links: Sequence[tuple[Socket, Socket]]) -> None:
        self._layout: Layout = floor.layout
        self._links = links
        self._plug = whole(floor.layout.plug_length)
        self._boxes = {
            socket: floor.box_of(socket.name) or socket.name for link in links for socket in link
        }

    def of(
        self, rects: Mapping[str, Rect], bounds: Sequence[int], most: tuple[int, int] | None
    ) -> tuple[int, int] | None:
        """Return how many links have no way, and the sum of the others [nm].

        Parameters
        ----------
        rects : outlines of all boxes [nm]
        bounds : no way of each link is shorter [nm]; 0 also for one without a way
        most : what is worse than this is not wanted: it may come as None
        """
        outlines = tuple(rects.values())
        apart = not any(_meet(*pair) for pair in combinations(outlines, 2))
        plugs = {
            socket: plugged(at, outlines, self._plug)
            for socket, box in self._boxes.items()
            if (at := jack_at(self._layout.boxes[box], rects[box], socket)) is not None
        }
        none, total = 0, sum(bounds)
        for (begin, end), bound in zip(self._links, bounds, strict=True):
            one, two = plugs[begin], plugs[end]
            if not (apart and bound and _plain(outlines, one, two, bound)):
                way = between(outlines, one, two)
                none += way is None
                total += (0 if way is None else length_of(way)) - bound
            if most is not None and (none, total) > most:
                return None
        return none, total


def _meet(one: Rect, other: Rect) -> bool:
    """Return whether two boxes touch or overlap."""
    beside = one.right < other.left or other.right < one.left
    return not beside and one.near <= other.back and other.near <= one.back


def _plain(outlines: Sequence[Rect], one: Plugged, two: Plugged, bound: int) -> bool:
    """Return whether a way of two corners is as short as the bound, where no boxes touch."""
    begin, end = one.end.spot, two.end.spot
    length = bound - one.length - two.length
    return any(
        length_of(way) == length and not any(_cuts(rect, way) for rect in outlines)
        for way in _tried(outlines, begin, end)
    )


def _tried(outlines: Sequence[Rect], begin: Spot, end: Spot) -> Iterator[tuple[Spot, ...]]:
    (x, y), (u, v) = begin, end
    for level in {y, v}.union(*((rect.near, rect.back) for rect in outlines)):
        yield begin, (x, level), (u, level), end
    for level in {x, u}.union(*((rect.left, rect.right) for rect in outlines)):
        yield begin, (level, y), (level, v), end


def _cuts(rect: Rect, way: Sequence[Spot]) -> bool:
    """Return whether a way goes through a box; to touch it is not that."""
    return any(
        min(x, u) < rect.right and max(x, u) > rect.left
        and min(y, v) < rect.back and max(y, v) > rect.near
        for (x, y), (u, v) in pairwise(way)
    )  # fmt: skip
