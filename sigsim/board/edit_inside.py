"""What a change to the text of a board file makes of loops that hold the board of another file."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, MutableSequence
from typing import Any

from sigsim.board.included import of_board
from sigsim.errors import SigsimError, quote, shown_path


def refuse_other_file(table: Mapping[str, Any]) -> None:
    """Refuse to change in a file's text what is in the board that a loop holds.

    Parameters
    ----------
    table : of a loop or a split

    Raises
    ------
    SigsimError : it holds one, naming the file in which it stands
    """
    if "board" not in table:
        return
    file = shown_path(table["board"])
    raise SigsimError(
        f"this stands in {file}, the board in the loop {quote(str(table['loop']))}, and cannot be "
        "written into this file",
        accepted=f"the same in {file}; the leads there and back are lead_out and lead_back here",
    )


def refuse_other_cable(data: Mapping[str, Any], role: str) -> None:
    """Refuse a kind of cable that is one of a board inside.

    Parameters
    ----------
    data : of the file
    role : the name of a cable

    Raises
    ------
    SigsimError : it is one, naming the file in which it stands
    """
    if role in data.get("cables", {}):
        return
    for table in _holding(data.get("chain", [])):
        if role.startswith(of_board(str(table["loop"]))):
            refuse_other_file(table)


def _holding(items: Any) -> Iterator[Mapping[str, Any]]:
    """Yield the tables of loops that hold a board, at any depth."""
    for table in items:
        if "loop" in table and "board" in table:
            yield table
        yield from _holding(table.get("inside", []))


def lists_of_names(data: Any) -> Iterator[MutableSequence[Any]]:
    """Yield what names stages and loops: scenes, rows, and the boxes that others stand before."""
    yield from data.get("scenes", {}).values()
    yield from data.get("layout", {}).get("rows", [])
    yield from (box["loops"] for box in data.get("boxes", {}).values() if "loops" in box)
    tables = list(data["chain"])
    while tables:
        table = tables.pop()
        yield from (table[key] for key in ("before", "after") if key in table)
        tables += table.get("inside", [])


def forget(data: Any, gone: Mapping[str, Any], also: Collection[str]) -> None:
    """Take out of the scenes and stages of a file what names an item that is no longer there.

    Parameters
    ----------
    data : of the file
    gone : the table of the item
    also : names of what is in boards inside it
    """
    names = {*_names(gone), *also}
    held = tuple(of_board(str(loop["loop"])) for loop in _holding([gone]))
    for on in lists_of_names(data):
        lost = [i for i, name in enumerate(on) if name in names or name.startswith(held)]
        for index in reversed(lost):
            del on[index]
    _clear_empty(data)


def _clear_empty(data: Any) -> None:
    """Take out rows, and loops of a box, of which nothing is left."""
    layout = data.get("layout", {})
    rows = layout.get("rows", [])
    for index in reversed([i for i, row in enumerate(rows) if not len(row)]):
        del rows[index]
    if "rows" in layout and not len(rows):
        del layout["rows"]
    for box in data.get("boxes", {}).values():
        if "loops" in box and not len(box["loops"]):
            del box["loops"]


def _names(table: Mapping[str, Any]) -> set[str]:
    """Return the names that scenes may know, those inside a loop too."""
    own = {str(table[key]) for key in ("stage", "loop") if key in table}
    return own.union(*(_names(inner) for inner in table.get("inside", [])))


def rename(data: Any, renamed: Mapping[Any, Any], *, holds_board: bool) -> None:
    """Let the scenes and stages of a file follow the new name of an item.

    Parameters
    ----------
    data : of the file
    renamed : the new name by the old one, empty for the same
    holds_board : whether it is a loop with a board, of which scenes name scenes
    """
    for on in lists_of_names(data):
        for index, name in enumerate(on):
            new = _renamed(name, renamed, holds_board)
            if new != name:
                on[index] = new


def _renamed(name: str, renamed: Mapping[Any, Any], holds_board: bool) -> str:
    for before, after in renamed.items():
        if name == before:
            return str(after)
        if holds_board and name.startswith(of_board(before)):
            return of_board(after) + name.removeprefix(of_board(before))
    return name
