"""Board files with variants, and the same edits made by hand, without the program's own ways."""

from __future__ import annotations

import json
from typing import Any

from helpers.boards import Table, flat

KINDS = ("stage", "loop", "split", "tap")
SPOT = ("before", "after", "fixed", "supply", "place")


def toml(value: Any) -> str:
    """Write plain data as a value of TOML on one line; quantities are plain numbers in SI units."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{json.dumps(k)} = {toml(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(toml, value)) + "]"
    return json.dumps(value, ensure_ascii=False)


def text(board: Table) -> str:
    """Write a whole board, a line for each of its sections."""
    return "".join(f"{json.dumps(key)} = {toml(value)}\n" for key, value in board.items())


def name_of(item: Table) -> str | None:
    """Return the name of an item, None for a cable."""
    return next((str(item[kind]) for kind in KINDS if kind in item), None)


def edited(board: Table, variant: Table) -> Table | None:
    """Return a board edited as a variant says, None if the edit leaves nothing where it must not.

    Parameters
    ----------
    board : plain data
    variant : likewise; each name once
    """
    new: Table = json.loads(json.dumps(board))
    out = set(variant.get("out", ()))
    gone = {
        name_of(inner)
        for item in flat(new["chain"])
        if name_of(item) in out
        for inner in flat([item])
    }
    renamed = {
        old: table[kind]
        for old, table in variant.items()
        if isinstance(table, dict)
        for kind in KINDS
        if kind in table
    }
    chain = _list(new["chain"], variant, gone, top=True)
    if chain is None:
        return None
    new["chain"] = chain
    for section in ("instrument", "destination", "wiring"):
        if section in variant:
            given = variant[section]
            new[section] = {**({} if "part" in given else new[section]), **given}
    for name, given in variant.get("cables", {}).items():
        new["cables"][name] = {**({} if "part" in given else new["cables"][name]), **given}
    new["scenes"] = {
        scene: [renamed.get(name, name) for name in on if name not in gone]
        for scene, on in new["scenes"].items()
    }
    return new


def _list(items: list[Table], variant: Table, gone: set[Any], *, top: bool) -> list[Table] | None:
    kept: list[Table] = []
    for item in items:
        name = name_of(item)
        if name is not None and name in gone:
            continue
        inside = item.get("inside")
        given = variant.get(name) if name is not None else None
        new = dict(item) if given is None else _one(item, given)
        if inside is not None:
            inner = _list(inside, variant, gone, top=False)
            lost = len(inner or ()) < len(inside)
            if inner is None or (lost and "loop" in item and not any(map(name_of, inner))):
                return None
            new["inside"] = inner
        kept.append(new)
    lost = len(kept) < len(items)
    return None if top and lost and not any(map(name_of, kept)) else kept


def _one(item: Table, given: Table) -> Table:
    if "part" not in given:
        return {**item, **given}
    spot = (*SPOT, "stage") if "stage" in item else (*SPOT, "tap", "cable", "length")
    return {**{key: item[key] for key in spot if key in item}, **given}
