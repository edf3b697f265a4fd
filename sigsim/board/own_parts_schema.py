"""The part of the JSON Schema for board files that name files of parts of their own.

Which parts there are, and what they give, only the reader can tell. So there a part may be any
name, and nothing is missed that a part might give.
"""

from __future__ import annotations

from typing import Any, Final

from sigsim.board.quantity_schema import Schema

_SUFFIX: Final = "-of-any-part"
# What depends on which parts there are.
_DEPENDENT: Final = ("anyOf", "allOf", "dependentSchemas", "if", "then")


def for_any_part(whole: Schema) -> Schema:
    """Return the sections of a file that may name any part, from those of one that may not.

    Parameters
    ----------
    whole : the schema of a board file; the definitions of its tables are added to it once more
    """
    tables = {name for name, made in whole["$defs"].items() if _is_table(made)}
    tables |= {"chain-item"}
    for name in sorted(tables):
        whole["$defs"][name + _SUFFIX] = _loosened(whole["$defs"][name], tables)
    made: Schema = _loosened(whole["properties"], tables)
    return made


def _is_table(made: Schema) -> bool:
    return made.get("type") == "object"


def _loosened(value: Any, tables: set[str]) -> Any:
    """Return a piece of a schema with every part accepted and nothing asked for beside it."""
    if isinstance(value, list):
        return [_loosened(entry, tables) for entry in value]
    if not isinstance(value, dict):
        return value
    kept = {key: entry for key, entry in value.items() if key not in _DEPENDENT}
    if not _is_table(value):
        kept = dict(value)
    made = {key: _loosened(entry, tables) for key, entry in kept.items()}
    if isinstance(reference := made.get("$ref"), str):
        name = reference.rpartition("/")[2]
        made["$ref"] = reference + _SUFFIX if name in tables else reference
    if "oneOf" in made and _is_choice_of_tables(value):
        made["anyOf"] = made.pop("oneOf")
    part = made.get("properties", {}).get("part")
    if isinstance(part, dict) and "enum" in part:
        part["anyOf"] = [{"enum": part.pop("enum")}, {"type": "string", "pattern": r"\S"}]
    return made


def _is_choice_of_tables(value: Schema) -> bool:
    return all("$ref" in entry or entry.get("type") == "object" for entry in value["oneOf"])
