"""A box that a change puts elsewhere leaves where it stood: what is said last counts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

from sigsim.board.changed import Table
from sigsim.board.following import without_empty

if TYPE_CHECKING:
    from sigsim.board.targets import Level, Target

_BOXES: Final = ("stage", "boxes")


def moved(done: Sequence[tuple[frozenset[str], Target]]) -> None:
    """Take boxes that got a place out of the rows, and let those in new rows have no place.

    Who gives both in one change is told by the reader that it is one too many.

    Parameters
    ----------
    done : the keys that were given, each with the table that got them, in one change
    """
    put = [target for keys, target in done if "place" in keys and target.kind in _BOXES]
    in_rows = [target for keys, target in done if target.kind == "layout" and "rows" in keys]
    again = {id(target.level.data) for target in in_rows}
    for target in put:
        if id(target.level.data) not in again:
            _out_of_rows(target.level, _own_name(target))
    fixed = {id(target.table) for target in put}
    for target in in_rows:
        names = {name for row in _rows(target.table) for name in row if isinstance(name, str)}
        for table in _tables(target.level, names):
            if id(table) not in fixed and "place" in table:
                del table["place"]
                table.origins.pop("place", None)


def _own_name(target: Target) -> str:
    """Return what the file of a box calls it."""
    if target.kind == "stage":
        return str(target.table["stage"])
    return target.name.removeprefix("boxes.").removeprefix(target.level.prefix)


def _out_of_rows(level: Level, name: str) -> None:
    layout = level.data.get("layout")
    rows = _rows(layout)
    if isinstance(layout, dict) and any(name in row for row in rows):
        without_empty(layout, [[one for one in row if one != name] for row in rows])


def _rows(layout: object) -> list[list[Any]]:
    """Return the rows of a layout, none where they are not written as rows."""
    rows = layout.get("rows") if isinstance(layout, dict) else None
    return rows if isinstance(rows, list) and all(isinstance(row, list) for row in rows) else []


def _tables(level: Level, names: set[str]) -> list[Table]:
    """Return the tables of some boxes of one file."""
    boxes = level.data.get("boxes")
    own = boxes if isinstance(boxes, dict) else {}
    found = [table for name, table in own.items() if name in names]
    listed = [level.data.get("chain")]
    while listed:
        items = listed.pop()
        for item in items if isinstance(items, list) else ():
            if isinstance(item, Table):
                stage = item.get("stage")
                found += [item] if isinstance(stage, str) and stage in names else []
                listed.append(item.get("inside"))
    return [table for table in found if isinstance(table, Table)]
