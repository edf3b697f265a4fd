"""Places of a chain in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from sigsim.items.cable import Cable
from sigsim.items.split import Split
from sigsim.quantities import length_text
from sigsim.show.render.text import plain

if TYPE_CHECKING:
    from sigsim.decide.buffer.gaps import Gap
    from sigsim.items.base import Item


def place(gap: Gap) -> str:
    """Name a gap by what it follows."""
    if gap.way:
        return f"{_way(gap)}{place(replace(gap, way=''))}"
    if gap.loop:
        return f"inside '{plain(gap.loop, 30)}', {place(replace(gap, loop=''))}"
    if gap.after is None:
        return f"before {_name(gap.before)}" if gap.before is not None else "anywhere"
    if isinstance(gap.after, Cable) and gap.before is not None:
        return f"after {_name(gap.after)}, before {_name(gap.before)}"
    return f"after {_name(gap.after)}"


def between(gap: Gap, first: str, last: str) -> str:
    """Name both neighbours of a gap.

    Parameters
    ----------
    gap : the gap
    first, last : what stands before the first and behind the last item of the chain
    """
    if gap.loop:
        first, last = "its send", "its return"
    elif len(gap.place) > 1:
        first = "the split"
    if gap.way and not gap.loop:
        last = f"'{plain(gap.way, 30)}'"
    before = _name(gap.after) if gap.after is not None else first
    behind = _name(gap.before) if gap.before is not None else last
    return f"{_way(gap)}{_inside(gap)}between {before} and {behind}"


def _way(gap: Gap) -> str:
    return f"on the way to '{plain(gap.way, 30)}', " if gap.way else ""


def _inside(gap: Gap) -> str:
    return f"inside '{plain(gap.loop, 30)}', " if gap.loop else ""


def _name(item: Item) -> str:
    if isinstance(item, Cable):
        if item.lays is not None:  # its length follows from the layout, which may change
            return f"the '{plain(item.cable, 30)}' cable"
        return "the lead" if item.is_lead else f"the {length_text(item.length)} cable"
    name = f"'{plain(item.label, 30)}'"
    return f"the split {name}" if isinstance(item, Split) else name


def places(gaps: Sequence[Gap]) -> str:
    """Name several gaps."""
    return " and ".join(place(gap) for gap in gaps)


def short_places(gaps: Sequence[Gap]) -> str:
    """Name several gaps in as few words as a plot has room for."""
    if len(gaps) == 1:
        return place(gaps[0])
    after = (gap.after for gap in gaps)
    return "after " + " + ".join(_name(item) if item is not None else "nothing" for item in after)


def elsewhere(gaps: Sequence[Gap]) -> str:
    """Return the caption of places that are not on the way to the end in every combination."""
    in_loop = "Inside a loop, where it is gone when the loop is out"
    if not any(gap.way for gap in gaps):
        return f"{in_loop}:"
    other = "on another way, of which it takes the load:"
    return f"{in_loop}, or {other}" if any(gap.loop for gap in gaps) else f"O{other[1:]}"


def not_elsewhere(gaps: Sequence[Gap]) -> str:
    """Say which places are meant, where there are some of those that `elsewhere` has."""
    if any(gap.way for gap in gaps):
        return " on this way"
    return " outside the loops" if gaps else ""
