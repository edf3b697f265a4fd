"""Reading what of a file stands alone: its title, its destination, its cables."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from sigsim.board.letters import Names, name_problem, one_line
from sigsim.board.reading import merged_part
from sigsim.board.tables import LONGEST_NAME
from sigsim.errors import quote
from sigsim.items.destination import Destination

if TYPE_CHECKING:
    from sigsim.board.reading import Reading
    from sigsim.items.cable import Cable, CableSpec


def read_title(reading: Reading, title: object) -> str:
    """Return the title of a board on one line."""
    if not isinstance(title, str):
        reading.fault("a title in quotes is wanted", "title", found=quote(title))
        return ""
    if len(title) > LONGEST_NAME:
        reading.fault(f"a title has at most {LONGEST_NAME} characters", "title")
    return one_line(title)


def read_destination(reading: Reading, table: Mapping[str, Any] | None) -> Destination | None:
    """Return what the chain ends in, None if there is none or something is wrong with it."""
    if table is None:
        return None
    place = "[destination]"
    values, part = merged_part(reading, table, place, ("destination",))
    made: Destination | None = reading.make(Destination, values, place, part, also=("part",))
    return made


def read_cables(reading: Reading, tables: object) -> dict[str, CableSpec | None]:
    """Return the kinds of cable by name, None for one in which something is wrong."""
    listed = reading.table(tables, "[cables]") or {}
    check_names(reading, listed, "[cables]")
    return {name: reading.kind_of_cable(name, table) for name, table in listed.items()}


def read_wiring(
    reading: Reading, table: object, cables: Mapping[str, CableSpec | None]
) -> Cable | None:
    """Return the cable of `[wiring]`, None if there is none or something is wrong with it."""
    raw = None if table is None else reading.table(table, "[wiring]")
    return None if raw is None else reading.cable(raw, "[wiring]", cables)


def check_names(reading: Reading, table: Mapping[str, Any], place: str) -> None:
    """Note what is wrong with the keys of a table that are names of the player's own."""
    names = Names()
    for name in table:
        problem = name_problem(name, place) or names.claimed(name, f"{place}, {quote(name)}")
        reading.problems += [problem] if problem else []
