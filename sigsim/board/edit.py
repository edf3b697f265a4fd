"""Every change to a board: insert, take out, replace, set values, another cable.

A *place* leads to an item as the file lists it: its number in the chain and, inside a loop or a
split, the place of that with a number more. `(3,)` is the fourth item, `(3, 0)` the first one in
it. Each change has a twin in `edit_file` that does the same to the text of a file.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any, TypeAlias, TypeVar

from sigsim.board.inside import board_of_place, boards_inside, held_by
from sigsim.board.model import pieces_of
from sigsim.board.relaid import called, sold_as, with_put
from sigsim.board.standing import names_changed
from sigsim.errors import SigsimError, UnknownNameError, quote
from sigsim.items.cable import Cable
from sigsim.items.fields import specs
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.items.tap import Tap

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.items.base import Item
    from sigsim.items.cable import CableSpec

Place: TypeAlias = tuple[int, ...]
_Item = TypeVar("_Item", bound="Item")


def places(board: Board) -> Iterator[tuple[Place, Item]]:
    """Yield every item that the file lists with its place, loops before what is in them."""
    yield from _places(board.listed, ())


def _places(items: tuple[Item, ...], before: Place) -> Iterator[tuple[Place, Item]]:
    for index, item in enumerate(items):
        yield (*before, index), item
        if isinstance(item, Loop | Split):
            yield from _places(item.inside, (*before, index))


def siblings(board: Board, place: Place) -> tuple[Item, ...]:
    """Return the list that a place is in: the chain, or what is in a loop or split."""
    items = board.listed
    for index in place[:-1]:
        group = items[index]
        assert isinstance(group, Loop | Split), "a place leads through loops and splits"
        items = group.inside
    return items


def item_at(board: Board, place: Place) -> Item:
    """Return the item at a place."""
    return siblings(board, place)[place[-1]]


def inserted(board: Board, place: Place, item: Item) -> Board:
    """Return the board with an item put in at a place, wired as if the file had it there.

    Raises
    ------
    SigsimError : a stage or loop already has its name, or the board has no such cable
    """
    _refuse_unfit(board, item)
    boxed = _with_list(board, place, lambda items, i: (*items[:i], item, *items[i:]))
    if not board.has_layout or isinstance(item, Cable | Tap | Split):
        return boxed
    return with_put(board, boxed, item.label, _names((item,)))


def taken_out(board: Board, place: Place) -> Board:
    """Return the board without the item at a place; scenes and other stages no longer name it.

    Raises
    ------
    SigsimError : nothing would be left in the chain or in the loop
    """
    item = item_at(board, place)
    gone = _names((item,))
    lost = tuple(held.cables for held in boards_inside((item,), board_of_place(board, place)))
    board = _names_changed(lifted(board, place), lambda name: None if name in gone else name)
    cables = {name: spec for name, spec in board.cables.items() if not name.startswith(lost)}
    return replace(board, cables=cables) if lost else board


def lifted(board: Board, place: Place) -> Board:
    """Return the board without the item at a place, which is still named: to be put in elsewhere.

    Raises
    ------
    SigsimError : nothing would be left in the chain or in the loop
    """
    items = siblings(board, place)
    if not (len(place) > 1 and isinstance(item_at(board, place[:-1]), Split)):
        refuse_last(len(items), inside=len(place) > 1)
    return _with_list(board, place, lambda items, i: (*items[:i], *items[i + 1 :]))


def _names_changed(board: Board, change: Callable[[str], str | None]) -> Board:
    """Return the board whose scenes and stages name others by what `change` makes of the names."""
    scenes = {
        scene: tuple(new for old in on if (new := change(old)) is not None)
        for scene, on in board.scenes.items()
    }
    listed = tuple(names_changed(item, change) for item in board.listed)
    return called(replace(board, listed=listed, scenes=scenes), change)


def replaced(board: Board, place: Place, item: Item) -> Board:
    """Return the board with another item at a place; scenes and other stages follow its name."""
    old = siblings(board, place)[place[-1]]
    board = _with_list(board, place, lambda items, i: (*items[:i], item, *items[i + 1 :]))
    if isinstance(old, Cable | Tap | Split) or old.label == item.label:
        return board
    return _names_changed(board, lambda name: item.label if name == old.label else name)


def with_values(
    board: Board, place: Place, values: Mapping[str, Any], tolerances: Mapping[str, float]
) -> Board:
    """Return the board with other values of the item at a place.

    Parameters
    ----------
    board : the board
    place : of the item
    values : by key [SI units]
    tolerances : of these values, as fractions; a value without one has none

    Raises
    ------
    SigsimError : a stage or loop already has the item's new name
    """
    old = siblings(board, place)[place[-1]]
    item = _with_values(board, old, values, tolerances)
    if item.label != old.label:
        _refuse_used(board, _names((item,)) - _names((old,)))
    made = replaced(board, place, item)
    if not isinstance(old, Loop) or not isinstance(item, Loop) or not old.board:
        return made
    around = board_of_place(board, place)
    before, after = (held_by(loop, around) for loop in (old, item))
    assert before is not None, "it holds a board"
    assert after is not None, "it holds a board still"
    return _with_cables_called(made, before.cables, after.cables)


def _with_cables_called(board: Board, before: str, after: str) -> Board:
    """Return the board with other words before the names of the cables of a board inside."""

    def name(old: str) -> str:
        return after + old.removeprefix(before) if old.startswith(before) else old

    if before == after:
        return board
    board = each_cable(board, lambda cable: replace(cable, cable=name(cable.cable)))
    board = sold_as(board, name)
    return replace(board, cables={name(old): spec for old, spec in board.cables.items()})


def _with_values(
    board: Board, old: _Item, values: Mapping[str, Any], tolerances: Mapping[str, float]
) -> _Item:
    if isinstance(old, Tap):  # its cable's keys stand in its own table
        own = {key: value for key, value in values.items() if key in specs(Tap)}
        laid = {key: value for key, value in values.items() if key not in own}
        piece = _with_values(board, old.cable, laid, tolerances)
        return replace(_renewed(old, own, tolerances), cable=piece)
    item = _renewed(old, values, tolerances)
    if isinstance(item, Split) and isinstance(old, Split) and item.destination.name == old.split:
        # An end without a name of its own goes by that of its split.
        return replace(item, destination=replace(item.destination, name=item.split))
    if not isinstance(item, Cable):
        return item
    if item.cable not in board.cables:
        raise UnknownNameError("cable", item.cable, tuple(board.cables), where=board.file)
    return replace(item, spec=board.cables[item.cable])


def _renewed(old: _Item, values: Mapping[str, Any], tolerances: Mapping[str, float]) -> _Item:
    kept = {key: value for key, value in old.tolerances.items() if key not in values}
    new = {key: value for key, value in tolerances.items() if key in values}
    return replace(old, **values, tolerances={**kept, **new})


def with_cable(board: Board, role: str, spec: CableSpec) -> Board:
    """Return the board with another cable under one of its cable names."""

    def renewed(cable: Cable) -> Cable:
        return replace(cable, spec=spec) if cable.cable == role else cable

    return replace(each_cable(board, renewed), cables={**board.cables, role: spec})


def each_cable(board: Board, function: Callable[[Cable], Cable]) -> Board:
    """Return the board with every piece of cable replaced, the wiring and those of taps too.

    The instrument's own lead comes marked as such.
    """

    def renewed(item: Item) -> Item:
        if isinstance(item, Cable):
            return replace(function(item), is_lead=False)
        if isinstance(item, Loop) and item.wiring is not None:
            return replace(item, wiring=function(item.wiring))
        return replace(item, cable=function(item.cable)) if isinstance(item, Tap) else item

    board = each_item(replace(board, listed=board.with_lead()), renewed)
    return board if board.wiring is None else replace(board, wiring=function(board.wiring))


def each_item(board: Board, function: Callable[[Item], Item]) -> Board:
    """Return the board with every listed item replaced by what `function` makes of it.

    A loop or a split comes with its contents already replaced.
    """

    def renewed(item: Item) -> Item:
        if isinstance(item, Loop | Split):
            item = replace(item, inside=tuple(map(renewed, item.inside)))
        return function(item)

    return replace(board, listed=tuple(map(renewed, board.listed)))


def free_name(board: Board, name: str) -> str:
    """Return a name that nothing in the chain has yet, and that no variant gives to anything."""
    given = {altered.now for version in board.versions for altered in version.altered}
    taken, number, found = {*board.item_names(), *given}, 1, name
    while found in taken:
        number += 1
        found = f"{name} {number}"
    return found


def refuse_last(count: int, *, inside: bool) -> None:
    """Refuse to take out the only item of a chain or of a loop; a split may be empty.

    Parameters
    ----------
    count : of items that are there
    inside : whether they are a loop's
    """
    if count > 1:
        return
    raise SigsimError(
        f"nothing would be left in the {'loop' if inside else 'chain'}",
        accepted="take out the loop itself" if inside else "a chain keeps at least one item",
    )


def _refuse_unfit(board: Board, item: Item) -> None:
    _refuse_used(board, _names((item,)))
    for piece in pieces_of((item,)):
        if piece.cable not in board.cables:
            raise UnknownNameError("cable", piece.cable, tuple(board.cables), where=board.file)


def _refuse_used(board: Board, names: Iterable[str]) -> None:
    for name in sorted(set(names) & set(board.item_names())):
        raise SigsimError(
            "this name is used twice", found=quote(name), accepted="a name of its own"
        )


def _names(items: Iterable[Item]) -> set[str]:
    """Return the names that no other item may have, those inside loops and splits too."""
    found = {item.label for item in items if not isinstance(item, Cable)}
    return found.union(*(_names(i.inside) for i in items if isinstance(i, Loop | Split)))


def _with_list(
    board: Board, place: Place, change: Callable[[tuple[Item, ...], int], tuple[Item, ...]]
) -> Board:
    """Return the board with the list that a place is in changed."""

    def descend(items: tuple[Item, ...], way: Place) -> tuple[Item, ...]:
        index, *rest = way
        if not rest:
            return change(items, index)
        group = items[index]
        assert isinstance(group, Loop | Split), "a place leads through loops and splits"
        inner = replace(group, inside=descend(group.inside, tuple(rest)))
        return (*items[:index], inner, *items[index + 1 :])

    return replace(board, listed=descend(board.listed, place))
