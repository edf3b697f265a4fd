"""How far a plug goes straight out of a jack before something stands in its way."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from sigsim.layout.exact import Rect
    from sigsim.layout.jacks import At


def room(jack: At, outlines: Iterable[Rect], wanted: int) -> int:
    """Return how far there is room, at most as far as is wanted [nm].

    A plug may slide along an outline. It cannot go between two boxes that touch, be it only at
    their corners.

    Parameters
    ----------
    jack : where it begins
    outlines : of all boxes [nm]
    wanted : the length of the plug [nm]
    """
    ahead = [_seen(rect, jack) for rect in outlines]
    stops = {0, wanted} | {end for begin_end, _ in ahead for end in begin_end if 0 < end < wanted}
    before = (True, True)
    steps = sorted(stops)
    for begin, end in pairwise(steps):
        over = [across for (first, last), across in ahead if first <= begin and end <= last]
        free = (
            not any(low < 0 <= high for low, high in over),
            not any(low <= 0 < high for low, high in over),
        )
        if not (free[0] and before[0]) and not (free[1] and before[1]):
            return begin
        before = free
    return wanted


def _seen(rect: Rect, jack: At) -> tuple[tuple[int, int], tuple[int, int]]:
    """Return a box as the jack sees it: from where to where ahead, and across."""
    (x, y), (dx, dy) = jack
    along = sorted((dx * (rect.left - x) + dy * (rect.near - y),
                    dx * (rect.right - x) + dy * (rect.back - y)))  # fmt: skip
    across = sorted((dy * (rect.left - x) + dx * (rect.near - y),
                     dy * (rect.right - x) + dx * (rect.back - y)))  # fmt: skip
    return (along[0], along[1]), (across[0], across[1])
