"""The same board with other things said about where its boxes stand."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, TypeAlias

from sigsim.board.inside import boards_inside
from sigsim.board.laying import Evenly, Laying
from sigsim.items.cable import Cable
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.items.tap import Tap
from sigsim.layout.model import Socket

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.wiring import Run
    from sigsim.items.base import Item
    from sigsim.items.cable import Lays
    from sigsim.layout.model import Layout

    _Change: TypeAlias = Callable[[Laying], Laying]


def relaid(board: Board, layout: Layout) -> Board:
    """Return the board with another layout of its own file.

    Parameters
    ----------
    board : with a layout
    layout : that takes its place

    Raises
    ------
    ValueError : the board has none
    """
    laying = board.laying
    if laying is None:
        raise ValueError("the board has no layout")
    return _each_laying(board, lambda one: Laying(layout, one.sold) if one is laying else one)


def with_put(board: Board, boxed: Board, name: str, names: Iterable[str]) -> Board:
    """Return a board with a box in it that stands nowhere yet.

    The cables on both of its sides are as long as the one that was there, where no length is given;
    where none was that has its length from a layout, as those that do in the mean.

    Parameters
    ----------
    board : without the box
    boxed : with it
    name : of the box
    names : of all that is new with it
    """
    if not boxed.has_layout or _stands(board, name):
        return boxed
    probed = _with_lengths(boxed, dict.fromkeys(names, 0.0))
    length = _length_there(board.runs, probed.runs, name)
    if length is None:
        found = [float(r.made.length) for r in board.runs if r.made and r.cable.lays is not None]
        length = round(sum(found) / len(found), 2) if found else 0.0
    return _with_lengths(boxed, dict.fromkeys(names, length))


def length_beside(board: Board, name: str) -> float | None:
    """Return the length [m] of the cables beside a box that was put in, None for no such box."""
    return next((one.put[name] for one in layings(board) if name in one.put), None)


def _with_lengths(board: Board, names: Mapping[str, float]) -> Board:
    return _each_laying(board, lambda one: replace(one, put={**one.put, **names}))


def _stands(board: Board, name: str) -> bool:
    """Whether a layout says where a box stands."""
    boxes = [box for one in layings(board) for box in one.layout.boxes.values()]
    return any(name == box.name or name in box.loops for box in boxes)


def layings(board: Board) -> list[Laying]:
    """Return the layouts of a board and of the boards inside it."""
    found = [board.laying, *(held.loop.lays for held in boards_inside(board.listed))]
    return [one for one in found if isinstance(one, Laying)]


def parts_loops(board: Board) -> bool:
    """Return whether something stands between the loops of one box, which joins them itself."""
    boxes = [box.loops for one in layings(board) for box in one.layout.boxes.values()]
    several = [set(loops) for loops in boxes if len(loops) > 1]
    return bool(several) and _parts(board.listed, several)


def is_joined(board: Board, before: Sequence[Item], behind: Sequence[Item]) -> bool:
    """Return whether a box joins itself what meets between some items and those behind them."""
    boxes = [box.loops for one in layings(board) for box in one.layout.boxes.values()]
    if not boxes:
        return False
    last = next((i for i in reversed(before) if not isinstance(i, Tap | Split)), None)
    first = next((i for i in behind if not isinstance(i, Tap | Split)), None)
    return (
        isinstance(last, Loop)
        and isinstance(first, Loop)
        and any(last.loop in loops and first.loop in loops for loops in boxes)
    )


def _parts(items: Sequence[Item], several: Sequence[set[str]]) -> bool:
    names = [item.label for item in items if not isinstance(item, Cable | Tap | Split)]
    for loops in several:
        places = [number for number, name in enumerate(names) if name in loops]
        if places and places[-1] - places[0] >= len(places):
            return True
        if 0 < len(places) < len(loops):
            return True
    return any(_parts(item.inside, several) for item in items if isinstance(item, Loop | Split))


def _length_there(before: Sequence[Run], after: Sequence[Run], name: str) -> float | None:
    """Return the length [m] of the cable that was where a box is now, None for none.

    A lead is no measure of a cable between two boxes.
    """
    coming = next((run for run in after if run.end.socket == Socket(name, "in")), None)
    going = next((run for run in after if run.begin.socket == Socket(name, "out")), None)
    listed = [run.cable for run in (coming, going) if run is not None and run.listed]
    if listed:
        found = [old for old in before if old.listed and _is(old.cable, listed[0])]
    elif coming is not None and going is not None:
        ends = coming.begin, going.end
        found = [old for old in before if (old.begin, old.end) == ends]
    else:
        return None
    lengths = (float(o.made.length) for o in found if o.made and o.begin.socket and o.end.socket)
    return next(lengths, None)


def _is(one: Cable, other: Cable) -> bool:
    """Whether two are the same cable; a lead is marked anew each time."""
    return one is other or (one.is_lead and other.is_lead)


def evened(board: Board, sockets: frozenset[Socket]) -> Board:
    """Return the board with one length for each cable between boxes that change places.

    It is the mean of what these cables are now. Wiring with a length of its own keeps it.

    Parameters
    ----------
    board : with layouts or without
    sockets : of these boxes, and where the loop around them begins and ends
    """
    if not board.has_layout:
        return board
    found = [
        float(run.made.length)
        for run in board.runs
        if run.made is not None
        and run.cable.lays is not None
        and {run.begin.socket, run.end.socket} <= sockets
    ]
    evenly = Evenly(sockets, sum(found) / len(found) if found else 0.0)
    return _each_laying(board, lambda one: replace(one, evenly=evenly))


def called(board: Board, change: Callable[[str], str | None]) -> Board:
    """Return the board whose layouts name boxes by what `change` makes of their names.

    Parameters
    ----------
    board : with layouts or without
    change : returns the new name, None for what no longer stands anywhere
    """
    return _each_laying(board, lambda one: _called(one, change))


def sold_as(board: Board, name: Callable[[str], str]) -> Board:
    """Return the board whose layouts call its cables by other names."""

    def renamed(one: Laying) -> Laying:
        return replace(one, sold={name(old): lengths for old, lengths in one.sold.items()})

    return _each_laying(board, renamed)


def _called(laying: Laying, change: Callable[[str], str | None]) -> Laying:
    layout = laying.layout
    names = {name: change(name) for name in (*layout.boxes, *_loops(layout))}
    if all(new == old for old, new in names.items()):
        return laying
    boxes = {
        new: replace(box, name=new, loops=_kept(box.loops, names))
        for name, box in layout.boxes.items()
        if (new := names[name]) is not None
    }
    rows = tuple(kept for row in layout.rows if (kept := _kept(row, names)))
    return Laying(replace(layout, boxes=boxes, rows=rows), laying.sold, laying.put, laying.evenly)


def _loops(layout: Layout) -> tuple[str, ...]:
    return tuple(name for box in layout.boxes.values() for name in box.loops)


def _kept(names: tuple[str, ...], changed: Mapping[str, str | None]) -> tuple[str, ...]:
    return tuple(new for old in names if (new := changed[old]) is not None)


def _each_laying(board: Board, change: _Change) -> Board:
    """Return the board with each of its layouts replaced, those of boards inside it too."""
    if not board.has_layout:
        return board
    made: dict[int, Laying] = {}

    def lays(old: Lays | None) -> Lays | None:
        if not isinstance(old, Laying):
            return old
        if id(old) not in made:
            made[id(old)] = change(old)
        return made[id(old)]

    def cable(old: Cable) -> Cable:
        return old if old.lays is None else replace(old, lays=lays(old.lays))

    def renewed(item: Item) -> Item:
        if isinstance(item, Cable):
            return cable(item)
        if isinstance(item, Tap):
            return item if item.cable.lays is None else replace(item, cable=cable(item.cable))
        if isinstance(item, Split):
            return replace(item, inside=tuple(map(renewed, item.inside)))
        if not isinstance(item, Loop):
            return item
        wiring = None if item.wiring is None else cable(item.wiring)
        inside = tuple(map(renewed, item.inside))
        return replace(item, inside=inside, wiring=wiring, lays=lays(item.lays))

    listed = tuple(map(renewed, board.listed))
    wiring = None if board.wiring is None else cable(board.wiring)
    lays(board.laying)
    return replace(board, listed=listed, wiring=wiring, laying=made.get(id(board.laying)))
