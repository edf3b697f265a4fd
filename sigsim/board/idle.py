"""Keys that can have no effect: an error where the file writes one, left out where a part does."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from sigsim.errors import Problem, quote
from sigsim.items.fields import PLACING, specs
from sigsim.items.instrument import PassiveInstrument
from sigsim.items.needs import PICKUPS, idle
from sigsim.physics.arrays import scalar

if TYPE_CHECKING:
    from sigsim.board.tables import CheckedTable
    from sigsim.items.fields import Declared
    from sigsim.items.needs import Need

INSTRUMENT: Final = "[instrument]"


def leave_out_idle(
    item: type,
    table: CheckedTable,
    beside: Mapping[str, Any],
    *,
    given: Mapping[str, Any],
    from_part: Collection[str],
    part: str,
    forgiven: Callable[[str], bool] = lambda _key: False,
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
    forgiven : whether a key that is written was put out of effect by a later change
    """
    # What is written but could not be read counts as there: its own problem says what is wrong.
    unread = [key for key in given if key not in table.values]
    found = idle(item, table.values, beside, unread)
    given_up = {k: need for k, need in found.items() if k not in from_part and forgiven(k)}
    written = {k: need for k, need in found.items() if k not in from_part and k not in given_up}
    for keys in _of_one_reason(given_up):
        said = f"{' and '.join(keys)}: left out, because it has no effect now"
        table.warnings.append(f"{table.place}, {said}: {found[keys[0]].why}")
    for keys in _of_one_reason(written):
        shown = quote(given.get(keys[0], table.values[keys[0]]))
        where = f"{table.place}, {' and '.join(keys)}"
        table.problems.append(_problem(keys[0], found[keys[0]], beside, where, shown))
    for key in found:
        del table.values[key]
        table.tolerances.pop(key, None)
    figures = [key for key in from_part if key not in PLACING]
    unheard = found and figures and not any(key in table.values for key in figures)
    if unheard and not forgiven("part"):
        table.problems.append(
            Problem(
                "nothing of this part has an effect here",
                f"{table.place}, part",
                quote(part),
                "the line left out, or " + " and ".join(_each_said(found)),
            )
        )


def _of_one_reason(found: Mapping[str, Need]) -> Iterator[list[str]]:
    """Yield the keys that one thing would cure: what they need, or what such a key needs."""
    groups: list[list[str]] = []
    for key, need in found.items():
        fitting = (
            group
            for group in groups
            if found[group[0]] is need or any(other in need.of for other in group)
        )
        group = next(fitting, None)
        if group is None:
            groups.append([key])
        else:
            group.append(key)
    yield from groups


def _each_said(found: Mapping[str, Need]) -> dict[str, None]:
    return dict.fromkeys(need.said for need in found.values())


def _problem(key: str, need: Need, beside: Mapping[str, Any], where: str, shown: str) -> Problem:
    home = _home(key, beside)
    if home:
        return Problem(f"this has no effect here: {need.why}; write it under {home}", where, shown)
    if need.words == (None,):
        what = f"this has no effect: {need.why}"
        return Problem(what, where, shown, f"{need.said}, or this line")
    where_it_is = "beside it" if _is_beside(need, where) else f"under {INSTRUMENT}"
    accepted = f"{need.said} {where_it_is}, or the line left out"
    return Problem(f"this has no effect: {need.why}", where, shown, accepted)


def _is_beside(need: Need, where: str) -> bool:
    """Whether what a key needs stands in the same table: not how pickups are joined."""
    return "[[instrument.pickups]]" not in where or not set(need.of) & {"pickups_wiring"}


def _home(key: str, beside: Mapping[str, Any]) -> str:
    """Return the other table of this instrument in which a key would be heard, empty for none."""
    wiring = {"pickups_wiring": "parallel"}
    pickups = [
        pickup.name
        for pickup in filter(None, beside.get(PICKUPS, ()))
        if key in specs(type(pickup)) and key not in idle(type(pickup), vars(pickup), wiring)
    ]
    if pickups:
        names = " or ".join(quote(name) for name in pickups)
        return f"[[instrument.pickups]] with name = {names}"
    whole = beside.get(INSTRUMENT)
    if whole is None or key not in specs(PassiveInstrument):
        return ""
    heard = key not in idle(PassiveInstrument, {**whole, key: True}, {PICKUPS: (None, None)})
    return INSTRUMENT if heard else ""


def unheard_keys(thing: Declared, instrument: Declared) -> Collection[str]:
    """Return the keys of a thing that can have no effect as it is.

    Parameters
    ----------
    thing : of a board
    instrument : of the same board; how its pickups are joined decides about theirs
    """
    values = {key: getattr(thing, key) for key in specs(type(thing))}
    given = {k: scalar(v) if isinstance(v, np.ndarray) else v for k, v in values.items()}
    beside = {key: getattr(instrument, key, None) for key in (PICKUPS, "pickups_wiring")}
    if isinstance(thing, PassiveInstrument):
        beside = {PICKUPS: thing.pickups}
    return idle(type(thing), given, beside)
