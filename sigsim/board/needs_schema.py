"""What keys need beside them, as far as a JSON Schema can say it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from sigsim.board.parts import library
from sigsim.board.quantity_schema import Schema
from sigsim.items.needs import Need, default, needs


def with_needs(table: Schema, item: type) -> Schema:
    """Return the schema of a table that also asks for what its keys need.

    A key that needs something may stand where the file or the part gives that. What depends on
    another table, and whether a quantity is 0, only the reader can tell.

    Parameters
    ----------
    table : the schema of the table
    item : the class that is made of it
    """
    names = table["properties"].get("part", {}).get("enum", [])
    parts = {name: library()[name].values for name in names}
    dependent: dict[str, list[Schema]] = {}
    for need in needs(item):
        if not set(need.of) <= set(table["properties"]):
            continue
        met: Schema = {"anyOf": [way for key in need.of for way in _ways(need, key, item, parts)]}
        for key in need.keys:
            if key in table["properties"]:
                dependent.setdefault(key, []).append(met)
    if dependent:
        table["dependentSchemas"] = {key: {"allOf": all_} for key, all_ in dependent.items()}
    return table


def _ways(need: Need, key: str, item: type, parts: Mapping[str, Mapping[str, Any]]) -> list[Schema]:
    """Return the ways in which a file can meet a need: by its own line, by a part, by default."""
    asked = _asked(need, key)
    ways: list[Schema] = []
    if asked is not False:
        ways.append({"required": [key], "properties": {key: asked}})
    if need.holds({key: default(item, key)}, item):
        bad = _parts(parts, key, lambda value: not need.holds({key: value}, item))
        left: Schema = {"not": {"required": [key]}}
        ways.append({**left, "properties": {"part": {"not": {"enum": bad}}}} if bad else left)
        return ways
    good = _parts(parts, key, lambda value: need.holds({key: value}, item))
    if good:
        # Pickups of a file are laid over those of the part, so that there are never fewer.
        over: Schema = {} if need.least is not None else {"not": {"required": [key]}}
        ways.append({"required": ["part"], "properties": {"part": {"enum": good}}, **over})
    return ways


def _asked(need: Need, key: str) -> Schema | bool:
    if wrong := [word for of, word in need.but if of == key]:
        return {"not": {"enum": wrong}}
    if need.words == (None,):
        return False
    if need.words:
        return {"enum": list(need.words)}
    if need.least is not None:
        return {"minItems": need.least} if need.least else False
    return True


def _parts(
    parts: Mapping[str, Mapping[str, Any]], key: str, fits: Callable[[Any], bool]
) -> Sequence[str]:
    """Return the parts that give a key with a fitting value."""
    return [name for name, values in parts.items() if key in values and fits(values[key])]
