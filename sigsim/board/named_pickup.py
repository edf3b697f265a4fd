"""One pickup of an instrument, by its name."""

from __future__ import annotations

from typing import Any

from sigsim.board.changed import Table
from sigsim.board.parts import library
from sigsim.board.targets import Target
from sigsim.errors import Problem, nearest, quote
from sigsim.items.needs import PICKUPS


def pickup(instrument: Target, name: str) -> Target | None:
    """Return the table of a pickup, None for a name that no pickup has.

    One that only the instrument's part has gets a table in the file's data.

    Parameters
    ----------
    instrument : the instrument
    name : of the pickup, as the reader names those without one
    """
    table = instrument.table
    listed = table.get(PICKUPS)
    tables = [one for one in listed if isinstance(one, Table)] if isinstance(listed, list) else []
    beneath = _of_part(table.get("part"))
    for number, one in enumerate(tables, 1):
        if name == one.get("name", _usual(len(tables), number, beneath)):
            return Target(f"instrument.{name}", "pickup", one, instrument.level)
    if name not in beneath and not _is_own(table.get("part")):
        return None
    made = Table({"name": name})
    table[PICKUPS] = [*(listed or ()), made]
    return Target(f"instrument.{name}", "pickup", made, instrument.level)


def no_pickup(instrument: Target, name: str, where: str) -> Problem:
    """Return the problem of a name that no pickup of an instrument has."""
    known = _names(instrument)
    accepted = ", ".join(map(quote, known)) or "a key of [instrument]: it has no pickups"
    what = "the instrument has no pickup of this name"
    return Problem(what, where, quote(name), accepted, nearest(name, known))


def _names(instrument: Target) -> list[str]:
    listed = instrument.table.get(PICKUPS)
    tables: list[Any] = listed if isinstance(listed, list) else []
    beneath = _of_part(instrument.table.get("part"))
    own = [
        one.get("name", _usual(len(tables), number, beneath))
        for number, one in enumerate(tables, 1)
        if isinstance(one, Table)
    ]
    return list(dict.fromkeys([*beneath, *(name for name in own if isinstance(name, str))]))


def _usual(count: int, number: int, beneath: list[str]) -> str:
    """Return what the reader calls a pickup without a name."""
    if beneath:
        return beneath[0] if len(beneath) == 1 else ""
    return "pickup" if count == 1 else f"pickup {number}"


def _is_own(part: object) -> bool:
    """Whether a part is not of the library, so that only the reader knows its pickups."""
    return isinstance(part, str) and part not in library()


def _of_part(part: object) -> list[str]:
    """Return the names of the pickups that a part has."""
    found = library().get(part) if isinstance(part, str) else None
    return [str(one["name"]) for one in found.values.get(PICKUPS, ())] if found else []
