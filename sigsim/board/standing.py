"""What may stand where: the names that `before` and `after` give, and where two ways part.

A name binds at the level of the chain at which the way to it parts from the way to the box that
names it: inside a loop it means that loop, and for two in one loop it is that loop's level.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Final, NamedTuple

from sigsim.errors import Problem, nearest, quote
from sigsim.items.base import Placed
from sigsim.items.loop import Loop
from sigsim.items.split import Split

if TYPE_CHECKING:
    from sigsim.board.edit import Place
    from sigsim.items.base import Item

_UNPLACED: Final = {
    "tap": "a tap hangs on the line, so that nothing stands before or behind it",
    "split": "a split is no box: name a stage or loop on the same way",
}
_A_CABLE: Final = "a cable stays at its place, so that nothing can be asked to stand before it"
_SHOWN: Final = 12
# A message names only the first few problems; the nearest of many names takes long to be found.
_MOST_NEAREST: Final = 50


class Parting(NamedTuple):
    """Where the ways to two boxes part.

    Attributes
    ----------
    level : the place of the loop or split in which they do, empty for the chain
    one, other : the number of each in what that lists, or of the loop that it is in
    """

    level: Place
    one: int
    other: int


def standing(items: Sequence[Item]) -> dict[str, Place]:
    """Return the place of every stage and loop by its name, in the order of the chain."""
    return {item.label: place for place, item in _boxes(items, ())}


def _boxes(items: Sequence[Item], above: Place) -> Iterator[tuple[Place, Placed]]:
    for index, item in enumerate(items):
        if isinstance(item, Placed):
            yield (*above, index), item
        if isinstance(item, Loop | Split):
            yield from _boxes(item.inside, (*above, index))


def parting(one: Place, other: Place) -> Parting | None:
    """Return where the ways to two places part, None where one leads to the other."""
    for depth, (first, second) in enumerate(zip(one, other, strict=False)):
        if first != second:
            return Parting(one[:depth], first, second)
    return None


def split_around(items: Sequence[Item], place: Place, depth: int) -> str:
    """Return the outermost split that a way leads through from a depth on, empty for none."""
    for number, index in enumerate(place[:-1]):
        group = items[index]
        if isinstance(group, Split) and number >= depth:
            return group.label
        assert isinstance(group, Loop | Split), "a way leads through loops and splits"
        items = group.inside
    return ""


def names_changed(item: Item, change: Callable[[str], str | None]) -> Item:
    """Return an item that names others by what `change` makes of their names, None for not at all.

    What is inside a loop or a split is changed as well.
    """
    if isinstance(item, Loop | Split):
        inside = tuple(names_changed(one, change) for one in item.inside)
        if any(new is not old for new, old in zip(inside, item.inside, strict=True)):
            item = replace(item, inside=inside)
    if not isinstance(item, Placed) or not (item.before or item.after):
        return item
    before, after = (
        tuple(new for old in names if (new := change(old)) is not None)
        for names in (item.before, item.after)
    )
    if (before, after) == (item.before, item.after):
        return item
    return replace(item, before=before, after=after)


class Named(NamedTuple):
    """A name that `before` or `after` gives.

    Attributes
    ----------
    box : the stage or loop at which it is written
    where : what a message calls that place
    name : the name
    """

    box: str
    where: str
    name: str


def standing_problems(
    listed: Sequence[Item],
    named: Sequence[Named],
    names: Collection[str],
    branches: Mapping[str, str],
    cables: Collection[str],
    *,
    prefix: str = "",
    incomplete: bool = False,
) -> Iterator[Problem]:
    """Yield what is wrong with the names that `before` and `after` give.

    Parameters
    ----------
    listed : the items of the chain, without those in which something is wrong
    named : all these names
    names : of all stages and loops
    branches : what each tap and split is, by its name
    cables : the names of the kinds of cable
    prefix : what stands before the names of the items, of a board inside another one
    incomplete : whether a name may be missing because something could not be read
    """
    found = standing(listed) if named else {}
    places = {name.removeprefix(prefix): place for name, place in found.items()}
    all_names, unknown = tuple(names), 0
    for one in dict.fromkeys(named):
        problem = None
        if one.box == one.name or (one.name in places and one.box in places):
            problem = _unbound(listed, places, one)
        elif one.name not in names and not (incomplete and one.name not in branches):
            unknown += 1
            near = all_names if unknown <= _MOST_NEAREST else all_names[:_SHOWN]
            problem = _unknown(one, near, branches, cables)
        if problem is not None:
            yield problem


def _unknown(
    one: Named, names: tuple[str, ...], branches: Mapping[str, str], cables: Collection[str]
) -> Problem:
    accepted = "names of stages and loops"
    if one.name in branches:
        return Problem(_UNPLACED[branches[one.name]], one.where, quote(one.name), accepted)
    if one.name in cables:
        return Problem(_A_CABLE, one.where, quote(one.name), accepted)
    return Problem(
        "the chain has no stage or loop of this name",
        one.where,
        quote(one.name),
        ", ".join(quote(name) for name in names[:_SHOWN]),
        nearest(one.name, names),
    )


def _unbound(listed: Sequence[Item], places: Mapping[str, Place], one: Named) -> Problem | None:
    """Return why the order of two things that are there can be asked of no order."""
    if one.box == one.name:
        what, accepted = "nothing stands before or behind itself", "names of other stages and loops"
        return Problem(what, one.where, quote(one.name), accepted)
    place, other = places[one.box], places[one.name]
    parts = parting(place, other)
    if parts is None:
        inside, around = (one.name, one.box) if len(other) > len(place) else (one.box, one.name)
        what = f"{quote(inside)} is inside {quote(around)}, neither before nor behind it"
        accepted = "names of stages and loops beside it"
        return Problem(what, one.where, quote(one.name), accepted)
    for way, box in ((place, one.box), (other, one.name)):
        if split := split_around(listed, way, len(parts.level)):
            what = f"{quote(box)} is on another way, inside the split {quote(split)}"
            accepted = "names of stages and loops on the same way"
            return Problem(what, one.where, quote(one.name), accepted)
    return None
