"""Who names a thing elsewhere follows it to its new name, or forgets it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any, Final

from sigsim.board.changed import NAMING, Table
from sigsim.board.targets import Target

# Keys of an item that hold names of others.
_NAMING_OTHERS: Final = ("before", "after")
_BETWEEN: Final = ": "


@dataclass
class _Names:
    """What a level called its things, and calls them now; None for one that is out.

    Attributes
    ----------
    data : of the level
    now : by the name as it was, of all its things: a name that stays is no entry of a loop
    loops : those with a board, as they were called
    """

    data: dict[str, Any]
    now: dict[str, str | None] = field(default_factory=dict)
    loops: set[str] = field(default_factory=set)


def follow(things: Iterable[tuple[Target, Target | None]]) -> None:
    """Let scenes, constraints and rows of every level mean what they meant.

    Parameters
    ----------
    things : all of the chain, as they were and as they are, None for one that is out
    """
    known: dict[int, _Names] = {}
    for old, new in things:
        ways = zip(old.level.way, (new or old).level.way, strict=True)
        for before, now in ways:
            names = known.setdefault(id(now.data), _Names(now.data))
            own = old.name[len(before.prefix) :]
            names.now[own] = None if new is None else new.name[len(now.prefix) :]
            if "board" in old.table:
                names.loops.add(own)
    for names in known.values():
        if any(old != new for old, new in names.now.items()):
            _in_level(names)


def _in_level(names: _Names) -> None:
    data = names.data
    if isinstance(scenes := data.get("scenes"), dict):
        for scene, on in scenes.items():
            scenes[scene] = _followed(on, names)
    if isinstance(layout := data.get("layout"), dict) and "rows" in layout:
        without_empty(layout, _followed(layout["rows"], names))
    boxes = data.get("boxes")
    for table in (*_tables(data.get("chain")), *_values(boxes)):
        for key in (*_NAMING_OTHERS, "loops"):
            if key in table:
                _rename(table, key, names)


def without_empty(layout: dict[str, Any], rows: Any) -> None:
    """Give a layout other rows, without those in which nothing is left; none at all for no row."""
    given = layout["rows"]
    if not isinstance(rows, list) or not isinstance(given, list):
        return
    empty = [row == [] for row in given]  # what the file has empty is refused by its reader
    layout["rows"] = [row for row, was in zip(rows, empty, strict=True) if row != [] or was]
    if not layout["rows"] and given:
        del layout["rows"]


def _rename(table: dict[str, Any], key: str, names: _Names) -> None:
    given = table[key]
    found = names.now.get(given, given) if isinstance(given, str) else _followed(given, names)
    if found is None or (found == [] and given != []):
        del table[key]
    else:
        table[key] = found


def _values(tables: object) -> Iterator[dict[str, Any]]:
    if isinstance(tables, dict):
        yield from (table for table in tables.values() if isinstance(table, dict))


def _tables(listed: object) -> Iterator[dict[str, Any]]:
    """Yield the tables of one file's chain, not those of boards inside it."""
    if isinstance(listed, list):
        for entry in listed:
            if isinstance(entry, dict):
                yield entry
                yield from _tables(entry.get("inside"))


def _followed(listed: Any, names: _Names) -> Any:
    """Return names in a list, or in lists in it, as they are now."""
    if not isinstance(listed, list):
        return listed
    found = []
    for entry in listed:
        if isinstance(entry, list):
            found.append(_followed(entry, names))
        elif not isinstance(entry, str):
            found.append(entry)
        elif (now := _entry(entry, names)) is not None:
            found.append(now)
    return found


def _entry(entry: str, names: _Names) -> str | None:
    """Return one name as it is now; it may be a loop's with a scene of the board inside it."""
    if entry in names.now:
        return names.now[entry]
    end = entry.find(_BETWEEN)
    while end >= 0:
        if entry[:end] in names.loops:
            new = names.now[entry[:end]]
            return None if new is None else new + entry[end:]
        end = entry.find(_BETWEEN, end + 1)
    return entry


def has_names(listed: list[Any]) -> bool:
    """Whether anything but cables is in a list of items."""
    return any(isinstance(entry, Table) and any(k in entry for k in NAMING) for entry in listed)


def end_to_end(before: list[Any], after: list[Any]) -> Iterator[tuple[str, str]]:
    """Yield the cables that are neighbours in a list and were none before."""
    old = {(id(a), id(b)) for a, b in pairwise(before)}
    for a, b in pairwise(after):
        if (id(a), id(b)) not in old and _is_cable(a) and _is_cable(b):
            yield str(a["cable"]), str(b["cable"])


def _is_cable(entry: object) -> bool:
    return isinstance(entry, Table) and "cable" in entry and not any(k in entry for k in NAMING)
