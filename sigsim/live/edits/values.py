"""Edits of values and parts: of what stands in the chain, and at both of its ends."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final

from sigsim.board import edit, edit_file
from sigsim.board.edit_table import Way, table_at, with_keys
from sigsim.board.settings import value_of
from sigsim.errors import SigsimError, quote
from sigsim.items.cable import Cable
from sigsim.items.split import Split
from sigsim.live.edits import quick
from sigsim.live.edits.named import cable_words, spoken
from sigsim.live.edits.registry import Asked, Edited, edits, refusal
from sigsim.live.edits.variants import followed, into_variant, name_in_file
from sigsim.live.edits.ways import refuse_included, way_of

if TYPE_CHECKING:
    from sigsim.board.edit import Place
    from sigsim.items.base import Item

# What stays where another part takes a thing's place: its name, and what belongs to the spot.
_OF_THE_SPOT: Final = ("before", "after", "fixed", "supply", "place")
_KEPT: Final[Mapping[str, tuple[str, ...]]] = {
    "stage": ("stage", *_OF_THE_SPOT),
    "tap": ("tap", "cable", "length", *_OF_THE_SPOT),
}
_ENDS: Final = ("instrument", "destination")
_MOST_KEYS: Final = 60


@edits("set")
def set_values(asked: Asked) -> Edited:
    """Give keys of one thing other values; None takes one out, so that the part's own counts."""
    given = asked.table("keys")
    if not 0 < len(given) <= _MOST_KEYS:
        raise refusal("this edit sets no value", given, "keys with values")
    spot = asked.spot()
    for end in _ENDS:
        if end in spot:
            return _set_end(asked, end, given)
    if "cables" in spot:
        role = str(spot["cables"])
        keys = _values("cables", given)
        words = _words(role, keys)
        if asked.variant:
            return Edited(into_variant(asked, f"cables.{role}", keys), words)
        return Edited(_in_table(asked, ("cables", role), keys), words)
    place = asked.place()
    item = edit.item_at(asked.board, place)
    refuse_included(asked.board, place)
    if spot.get("end") is True and isinstance(item, Split):
        keys = _values("destination", given)
        name = f"{item.destination.name}"
        asked.as_written()
        return Edited(
            with_keys(asked.text, (*way_of(place), "destination"), keys), _words(name, keys)
        )
    keys = _values(item.key, given)
    return _set_item(asked, place, item, {**_unheard(asked, place, item, keys), **keys})


def _set_item(asked: Asked, place: Place, item: Item, keys: Mapping[str, Any]) -> Edited:
    if isinstance(item, Cable):
        asked.as_written()
        words = _words(cable_words(asked.board, place), keys)
        return Edited(quick.with_values(asked.text, place, keys), words)
    words = _words(item.label, keys)
    if asked.variant:
        return Edited(into_variant(asked, name_in_file(asked.board, item.label), keys), words)
    text = quick.with_values(asked.text, place, keys)
    name = keys.get(item.key)
    return Edited(followed(text, item.label, name) if isinstance(name, str) else text, words)


def _unheard(asked: Asked, place: Place, item: Item, keys: Mapping[str, Any]) -> dict[str, None]:
    """Return what the file says of an item and what would say nothing beside new values.

    Only what another value silences: a bare contact behind a buffered bypass.
    """
    needs = [need for need in getattr(item, "needs", ()) if need.words and set(need.of) & {*keys}]
    table = table_at(tomllib.loads(asked.text), way_of(place)) if not asked.variant else None
    after = {**(table or {}), **keys}
    return {
        key: None
        for need in needs
        if not need.holds(after, type(item))
        for key in need.keys
        if table is not None and key in table
    }


def _set_end(asked: Asked, end: str, given: Mapping[str, Any]) -> Edited:
    """Set values of the instrument, of one of its pickups, or of the destination."""
    spot = asked.spot()
    pickup = spot.get("pickup")
    if pickup is None or end != "instrument":
        keys = _values(end, given)
        text = into_variant(asked, end, keys) if asked.variant else _in_table(asked, (end,), keys)
        return Edited(text, _words(end, keys))
    keys = _values("pickup", given)
    tables = tomllib.loads(asked.text)["instrument"].get("pickups", [])
    if not isinstance(pickup, int) or not 0 <= pickup < len(tables):
        raise refusal("the file lists no such pickup", pickup, "one of [[instrument.pickups]]")
    asked.as_written()
    text = _in_table(asked, ("instrument", "pickups", pickup), keys)
    return Edited(text, _words(str(tables[pickup].get("name", f"pickup {pickup + 1}")), keys))


def _in_table(asked: Asked, way: Way, keys: Mapping[str, Any]) -> str:
    """Return the text with values in a table that is there.

    Raises
    ------
    SigsimError : it is not
    """
    if table_at(tomllib.loads(asked.text), way) is None:
        name = ".".join(map(str, way))
        raise SigsimError(f"there is no [{name}] in this file", found=quote(name))
    return with_keys(asked.text, way, keys)


def _values(kind: str, given: Mapping[str, Any]) -> dict[str, Any]:
    """Return values as the file has them: a text is read as its key wants it."""
    keys: dict[str, Any] = {}
    for key, value in given.items():
        if isinstance(value, str):
            keys[key] = value_of(kind, key, value.strip())
        elif value is None or isinstance(value, bool | int | float):
            keys[key] = value
        else:
            raise refusal(f"no such value can be set for {key}", value, "a text, a yes or a no")
    return keys


def _words(name: str, keys: Mapping[str, Any]) -> str:
    """Return the words of values that were set: `bilge fuzz bypass buffered`."""
    said = [f"{key.replace('_', ' ')} {_value_words(value)}" for key, value in keys.items()]
    more = f" and {len(said) - 2} more" if len(said) > 2 else ""
    return f"{name}: {', '.join(said[:2])}{more}"


def _value_words(value: object) -> str:
    if value is None:
        return "as usual"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return ", ".join(map(str, value)) if isinstance(value, list) else str(value)


@edits("part")
def part(asked: Asked) -> Edited:
    """Put another part in a thing's place, under the same name."""
    spot, name = asked.spot(), asked.word("part")
    for end in _ENDS:
        if end in spot:
            return _end_part(asked, end, name)
    place = asked.place()
    item = edit.item_at(asked.board, place)
    refuse_included(asked.board, place)
    if item.key not in _KEPT:
        raise refusal("this is made from no part", item.label, "a stage or a tap")
    kinds = ("stage",) if item.key == "stage" else ("destination",)
    asked.board.library.part(name, kinds)
    words = f"{item.label}: {spoken(name)}"
    if asked.variant:
        in_file = name_in_file(asked.board, item.label)
        return Edited(into_variant(asked, in_file, {"part": name}, instead=True), words)
    table = table_at(tomllib.loads(asked.text), way_of(place)) or {}
    gone = {key: None for key in table if key not in _KEPT[item.key]}
    return Edited(edit_file.with_values(asked.text, place, {**gone, "part": name}), words)


@edits("instrument", "destination")
def end_part(asked: Asked) -> Edited:
    """Put another instrument or destination at an end of the chain."""
    return _end_part(asked, str(asked.edit["do"]), asked.word("part"))


def _end_part(asked: Asked, end: str, name: str) -> Edited:
    kinds = ("instrument", "pickup") if end == "instrument" else ("destination",)
    asked.board.library.part(name, kinds)
    words = f"{end}: {spoken(name)}"
    if asked.variant:
        return Edited(into_variant(asked, end, {"part": name}, instead=True), words)
    table = table_at(tomllib.loads(asked.text), (end,)) or {}
    gone = dict.fromkeys(table)
    return Edited(with_keys(asked.text, (end,), {**gone, "part": name}), words)
