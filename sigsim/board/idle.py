"""Keys that can have no effect: an error where the file writes one, left out where a part does."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import TYPE_CHECKING, Any

from sigsim.errors import Problem, quote
from sigsim.items.fields import specs
from sigsim.items.needs import PICKUPS, idle

if TYPE_CHECKING:
    from sigsim.board.tables import CheckedTable
    from sigsim.items.needs import Need


def leave_out_idle(
    item: type,
    table: CheckedTable,
    beside: Mapping[str, Any],
    *,
    given: Mapping[str, Any],
    from_part: Collection[str],
    part: str,
) -> None:
    """Take what can have no effect out of a table, and note what the file wrote in vain.

    Parameters
    ----------
    item : the class that is made of it
    table : checked; problems are added to it
    beside : values of other tables that decide whether a key here is heard
    given : the table as in the file, its part's values underneath
    from_part : the keys whose value is the part's
    part : its name
    """
    # What is written but could not be read counts as there: its own problem says what is wrong.
    unread = [key for key in given if key not in table.values]
    found = idle(item, table.values, beside, unread)
    for key, need in found.items():
        value = table.values.pop(key)
        table.tolerances.pop(key, None)
        if key not in from_part:
            where = f"{table.place}, {key}"
            shown = quote(given.get(key, value))
            accepted = _belongs(key, need, beside)
            what = f"this has no effect: {need.why}"
            table.problems.append(Problem(what, where, shown, accepted))
    if found and from_part and not any(key in table.values for key in from_part):
        table.problems.append(
            Problem(
                "nothing of this part has an effect here",
                f"{table.place}, part",
                quote(part),
                "the line left out, or " + " and ".join(_each_said(found)),
            )
        )


def _each_said(found: Mapping[str, Need]) -> dict[str, None]:
    return dict.fromkeys(need.said for need in found.values())


def _belongs(key: str, need: Need, beside: Mapping[str, Any]) -> str:
    """Say where a key belongs, or what has to stand beside it."""
    wiring = {"pickups_wiring": "parallel"}
    homes = [
        pickup.name
        for pickup in filter(None, beside.get(PICKUPS, ()))
        if key in specs(type(pickup)) and key not in idle(type(pickup), vars(pickup), wiring)
    ]
    if homes:
        names = " or ".join(quote(name) for name in homes)
        return f"this key under [[instrument.pickups]] with name = {names}"
    return f"{need.said} beside it, or the line left out"
