"""The ends of a board: its destination and those of its splits, and the way to each of them.

Seen from the end of a split, what goes on from there on the other way is a load: the split turned
round. So a board listened at another end is a chain like any other.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Final, TypeAlias

from sigsim.items.cable import Cable
from sigsim.items.loop import Loop, LoopToEnd
from sigsim.items.split import Split
from sigsim.items.tap import Tap

if TYPE_CHECKING:
    from sigsim.items.base import Item
    from sigsim.items.destination import Destination

# The end of the chain itself, by the name under which a split's end is chosen.
MAIN: Final = ""

_Place: TypeAlias = tuple[int, ...]


def ends(items: Sequence[Item]) -> Iterator[Split]:
    """Yield the splits among some items, in order, those inside loops and splits as well."""
    for item in items:
        if isinstance(item, Split):
            yield item
        if isinstance(item, Loop | Split):
            yield from ends(item.inside)


def place_of_end(items: Sequence[Item], name: str) -> _Place:
    """Return the place of a split by its name, empty for the end of the chain itself."""
    if name == MAIN:
        return ()
    for index, item in enumerate(items):
        if isinstance(item, Split) and item.split == name:
            return (index,)
        if isinstance(item, Loop | Split) and (below := place_of_end(item.inside, name)):
            return (index, *below)
    return ()


def way_to(items: tuple[Item, ...], place: _Place, end: Destination) -> tuple[Item, ...]:
    """Return what the signal meets on its way to the end of a split, with what loads that way.

    Parameters
    ----------
    items : of the chain, wired
    place : of the split, empty for the end of the chain itself
    end : where the chain ends
    """
    return _way(items, place, (), end) if place else items


def _way(
    items: tuple[Item, ...], place: _Place, behind: tuple[Item, ...], end: Destination
) -> tuple[Item, ...]:
    """Return the way to a split among some items; `behind` them the other way goes on to `end`."""
    index, *deeper = place
    before, item, rest = items[:index], items[index], (*items[index + 1 :], *behind)
    other = Split(split=f"the way to {end.name}", inside=rest, destination=end, turned=True)
    if isinstance(item, Split):
        way = way_to(item.inside, tuple(deeper), item.destination)
        return (*before, other, *way)
    assert isinstance(item, Loop), "a place leads through loops and splits"
    inside = _way(item.inside, tuple(deeper), rest, end)
    keys = ("loop", "contact_resistance", "wiring_capacitance", "board", "board_title", "wiring")
    kept = {key: getattr(item, key) for key in keys}
    return (*before, LoopToEnd(**kept, inside=inside, others=(other,)))


def loops_around(items: Sequence[Item], place: _Place) -> Iterator[str]:
    """Yield the names of the loops that a place is inside of, the outermost first."""
    for index in place[:-1]:
        group = items[index]
        assert isinstance(group, Loop | Split), "a place leads through loops and splits"
        if isinstance(group, Loop):
            yield group.loop
        items = group.inside


def lead_place(items: Sequence[Item], place: _Place) -> _Place | None:
    """Return where the instrument's own lead is: the first item on the way that is no branch.

    Parameters
    ----------
    items : as listed in the file
    place : of the split at whose end one listens, empty for the end of the chain itself

    Returns
    -------
    its place, None if that item is no cable
    """
    stop = place[0] if place else len(items)
    for index, item in enumerate(items[:stop]):
        if not isinstance(item, Tap | Split):
            return (index,) if isinstance(item, Cable) else None
    split = items[stop] if place else None
    below = lead_place(split.inside, place[1:]) if isinstance(split, Split) else None
    return None if below is None else (stop, *below)


def marked(items: Sequence[Item], place: _Place | None) -> tuple[Item, ...]:
    """Return the items with the cable at a place marked as the instrument's own lead."""
    made = list(items)
    if place is not None:
        item = made[place[0]]
        if isinstance(item, Cable):
            made[place[0]] = replace(item, is_lead=True)
        elif isinstance(item, Loop | Split):
            made[place[0]] = replace(item, inside=marked(item.inside, place[1:]))
    return tuple(made)
