"""The JSON Schema of board files, made from the same declarations that the reader checks with.

It says as much as a schema can: every key, word, part and unit. What needs the whole file (a name
used twice, a scene naming a stage that is not there) only the reader can say.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Final

from sigsim.board.chain_reader import MOST_ITEMS
from sigsim.board.needs_schema import with_needs
from sigsim.board.own_parts_schema import for_any_part
from sigsim.board.parts import library
from sigsim.board.quantity_schema import Schema, quantities, range_text, reference, taper
from sigsim.board.tables import LONGEST_NAME, required
from sigsim.board.targets import OUT
from sigsim.board.variants import MOST_VARIANTS
from sigsim.items.base import STAGE_KINDS
from sigsim.items.cable import Cable, CableSpec
from sigsim.items.destination import Destination
from sigsim.items.fields import Spec, specs
from sigsim.items.instrument import INSTRUMENT_TYPES, Pickup
from sigsim.items.layout import BoxTable, LayoutTable
from sigsim.items.loop import BOARD_SPECS, Loop
from sigsim.items.needs import told
from sigsim.items.split import Split
from sigsim.items.tap import Tap
from sigsim.physics.pot import AUDIO
from sigsim.quantities import KINDS

DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"
NAME: Final[Schema] = {"type": "string", "pattern": r"\S", "maxLength": LONGEST_NAME}

_PATH: Final[Schema] = {"type": "string", "pattern": r"\S", "examples": ["deck.toml"]}
_DAY: Final[Schema] = {
    "type": "string",
    "format": "date",
    "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}$",
    "examples": ["2026-11-28"],
}
_NAMES: Final[Schema] = {"type": "array", "items": NAME}
_PLAIN: Final[dict[str, Schema]] = {
    "flag": {"type": "boolean"},
    "text": NAME,
    "names": _NAMES,
    "date": _DAY,
    "rows": {"type": "array", "minItems": 1, "items": {**_NAMES, "minItems": 1}},
}
_PART_HELP = "a part of the library; the keys beside it override the part's"
_LISTED_HELP = {
    "title": "what the board is called",
    "parts": "one file of your own parts, or several, by their paths from this file",
    "cables": "each kind of cable you use, by a name of your own",
    "wiring": "the cable put between neighbouring stages where the chain names none",
    "layout": "where the boxes stand, so that cables need no length",
    "boxes": "boxes with the jacks of several loops, each by a name of your own",
    "chain": "everything from the instrument to the destination, in order",
    "scenes": "what is on together, by a name of your own",
    "variants": "other versions of this board, each by a name of your own: what it changes",
}


def board_schema() -> Schema:
    """Return the schema of a whole board file."""
    stages = {
        f"{kind.replace(' ', '-')}-stage": with_needs(_stage(kind), STAGE_KINDS[kind])
        for kind in STAGE_KINDS
    }
    tap = with_needs(_tap(), Tap)
    items = {"laid-cable": _table(Cable), **stages, "loop": _loop(), "split": _split(), "tap": tap}
    sections: dict[str, Schema] = {
        "title": {"type": "string", "maxLength": LONGEST_NAME},
        "parts": {"oneOf": [_PATH, {"type": "array", "minItems": 1, "items": _PATH}]},
        "instrument": {
            "oneOf": [with_needs(_instrument(k), made) for k, made in INSTRUMENT_TYPES.items()]
        },
        "destination": {"$ref": "#/$defs/destination"},
        "cables": _named({"$ref": "#/$defs/cable"}),
        "wiring": {"$ref": "#/$defs/laid-cable"},
        "layout": {"$ref": "#/$defs/layout"},
        "boxes": _named({"$ref": "#/$defs/box"}),
        "chain": _items(),
        "scenes": _named({"type": "array", "items": {"type": "string"}}),
        "variants": {"maxProperties": MOST_VARIANTS, **_named(_variant())},
    }
    for name, text in _LISTED_HELP.items():
        sections[name] = {"description": text, **sections[name]}
    schema = {
        "$schema": DIALECT,
        "title": "sigsim board file",
        "description": "An instrument, the chain behind it, and what is plugged in at its end.",
        **_object(sections, ["instrument", "destination", "chain"]),
        "$defs": {
            "cable": with_needs(_table(CableSpec, ("cable",)), CableSpec),
            "destination": with_needs(_table(Destination, ("destination",)), Destination),
            "pickup": with_needs(_table(Pickup, ("pickup",)), Pickup),
            "layout": _table(LayoutTable),
            "box": with_needs(_table(BoxTable), BoxTable),
            **items,
            "chain-item": {"oneOf": [{"$ref": f"#/$defs/{name}"} for name in items]},
            **quantities(),
        },
    }
    # Which parts there are is known where a file names none of its own.
    of_ours = {key: made for key, made in sections.items() if key not in ("title", "parts")}
    schema["properties"] = for_any_part(schema)
    schema["allOf"] = [_without_layout()]
    schema["if"] = {"not": {"required": ["parts"]}}
    schema["then"] = {"properties": of_ours}
    return schema


def _object(properties: Mapping[str, Schema], required: list[str]) -> Schema:
    return {
        "type": "object",
        "properties": dict(properties),
        "required": required,
        "additionalProperties": False,
    }


def _without_layout() -> Schema:
    """Say that cables need a length where no layout gives one, as far as no loop is in between."""
    length: Schema = {"required": ["length"]}
    cable = {"if": {"required": ["cable"], "not": {"required": ["tap"]}}, "then": length}
    return {
        "if": {"not": {"required": ["layout"]}},
        "then": {"properties": {"wiring": length, "chain": {"items": cable}, "boxes": False}},
    }


def _named(entry: Schema) -> Schema:
    return {"type": "object", "additionalProperties": entry}


def _variant() -> Schema:
    """Return the schema of a variant; what a table of it may hold depends on what it changes."""
    out = "names of stages, loops, splits and taps that are left out"
    return {
        "type": "object",
        "properties": {
            OUT: {"description": out, "type": "array", "items": {"type": "string"}},
        },
        "additionalProperties": {"type": "object"},
    }


def _items() -> Schema:
    item = {"$ref": "#/$defs/chain-item"}
    return {"type": "array", "minItems": 1, "maxItems": MOST_ITEMS, "items": item}


def _table(
    item: type, part_kinds: tuple[str, ...] = (), extra: Mapping[str, Spec] | None = None
) -> Schema:
    """Return the schema of one table: the keys an item class declares, and `part`.

    Parameters
    ----------
    item : the class that is made from the table
    part_kinds : the kinds of part that may stand in it
    extra : accepted keys that are not fields of the class
    """
    extra = extra or {}
    properties = {key: _key(item, key, spec) for key, spec in {**extra, **specs(item)}.items()}
    needed = [*extra, *(key for key in required(item) if (item, key) != (Cable, "length"))]
    if not part_kinds:
        return _object(properties, needed)
    parts = _parts(part_kinds, set(properties), item)
    named = [key for key in needed if key in ("stage", "loop", "split", "tap", "cable", "length")]
    made = _object(({"part": _part(parts)} if parts else {}) | properties, named)
    if given := [key for key in needed if key not in named]:
        made["anyOf"] = [{"required": ["part"]}, {"required": given}]
    return made


def _part(names: list[str]) -> Schema:
    return {"description": _PART_HELP, "enum": names, "examples": names[:1]}


def _parts(kinds: tuple[str, ...], keys: set[str], item: type) -> list[str]:
    """Return the parts that suit a table: all that they give must be a key of it."""
    words = ("kind", "type", "pickups")
    return [
        part.name
        for part in library().values()
        if part.kind in kinds
        and set(part.values) <= keys | set(words)
        and _class_of(part.kind, part.values) in (None, item)
    ]


def _class_of(kind: str, values: Mapping[str, Any]) -> type | None:
    """Return the class that a part's values are for, None if its table has only one."""
    if kind == "stage":
        return STAGE_KINDS[values.get("kind", "active")]
    if kind == "instrument":
        return INSTRUMENT_TYPES[values.get("type", "passive")]
    return None


def _told_apart(made: Schema, key: str, word: str, default: str) -> Schema:
    """Add the word that says which class a table is; the default one may leave it out."""
    made["properties"][key] = {"const": word, "description": f"which {key} this is"}
    if word != default:
        given: list[Schema] = [{"required": [key]}]
        if "part" in made["properties"]:
            given.append({"required": ["part"]})
        made.setdefault("allOf", []).append({"anyOf": given})
    return made


def _stage(kind: str) -> Schema:
    return _told_apart(_table(STAGE_KINDS[kind], ("stage",)), "kind", kind, "active")


def _instrument(kind: str) -> Schema:
    made = _told_apart(_table(INSTRUMENT_TYPES[kind], ("instrument",)), "type", kind, "passive")
    if kind != "passive":
        return made
    made["properties"]["pickups"] = {
        "description": "several pickups, each with its coil and perhaps its volume pot",
        "type": "array",
        "minItems": 1,
        "items": {"$ref": "#/$defs/pickup"},
    }
    # A pickup that no part knows needs its inductance, or a part of its own.
    several = [n for n in made["properties"]["part"]["enum"] if "pickups" in library()[n].values]
    made["if"] = {"not": {"properties": {"part": {"enum": several}}, "required": ["part"]}}
    coil = {"anyOf": [{"required": ["inductance"]}, {"required": ["part"]}]}
    made["then"] = {"properties": {"pickups": {"items": coil}}}
    return made


def _loop() -> Schema:
    made = _table(Loop)
    inside = {"description": "[[chain.inside]]: what is in the loop, in order", **_items()}
    made["properties"] |= {"inside": inside, **{k: _of_board(s) for k, s in BOARD_SPECS.items()}}
    made["oneOf"] = [{"required": ["inside"]}, {"required": ["board"]}]
    made["dependentRequired"] = {key: ["board"] for key in BOARD_SPECS if key != "board"}
    return made


def _of_board(spec: Spec) -> Schema:
    """Return the schema of one key of a loop that holds the board of another file."""
    lead = {"$ref": "#/$defs/laid-cable", "required": ["length"]}
    kinds = {"path": _PATH, "text": NAME, "laid cable": lead}
    return {"description": spec.help, **kinds[spec.kind]}


def _split() -> Schema:
    made = _table(Split)
    inside = {"description": "[[chain.inside]]: what is in the split, in order", **_items()}
    end = {"description": "where it ends; {} is an open end", "$ref": "#/$defs/destination"}
    made["properties"] |= {"inside": {**inside, "minItems": 0}, "destination": end}
    made["required"].append("destination")
    return made


def _tap() -> Schema:
    laid = {key: specs(Cable)[key] for key in required(Cable)}
    made = _table(Tap, ("destination",), laid)
    made["if"] = {"properties": {"open": {"const": True}}, "required": ["open"]}
    made["then"] = {"properties": {"part": False}}
    return made


def _key(item: type, key: str, spec: Spec) -> Schema:
    """Return the schema of one key; its description is what an editor shows on hovering."""
    if spec.kind == "choice":
        value: Schema = {"enum": list(spec.choices)}
    elif spec.kind == "edge":
        at = reference(replace(spec, kind="length", exact=True, several="pair"))
        value = {"anyOf": [{"enum": list(spec.choices)}, at]}
    elif spec.kind in KINDS:
        value = reference(spec)
    else:
        value = {**_PLAIN, "taper": taper()}[spec.kind]
    meant = f"; {range_text(spec)}" if spec.kind in KINDS else ""
    layout = "; not needed in a file with [layout]" if (item, key) == (Cable, "length") else ""
    help = spec.help + layout + _otherwise(item, key, spec) + meant + told(item, key)
    return {"description": help, **value}


def _otherwise(item: type, key: str, spec: Spec) -> str:
    """Say what holds where neither the table nor its part gives a value."""
    field = next((f for f in dataclasses.fields(item) if f.name == key), None)
    if field is None or field.default in (dataclasses.MISSING, None, "", ()):
        return ""
    if isinstance(field.default, tuple):
        shown = ", ".join(f"{one:g} {KINDS[spec.kind].symbol}" for one in field.default)
        return f"; {shown} if not given"
    if spec.kind == "flag":
        return f"; {str(field.default).lower()} if not given"
    if spec.kind == "taper":
        return "; audio if not given" if field.default == AUDIO else ""
    if spec.kind in KINDS:
        return f"; {field.default:g} {KINDS[spec.kind].symbol}".rstrip() + " if not given"
    return f"; {field.default} if not given"
