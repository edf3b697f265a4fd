"""Edits of variants, and edits that go into the variant that is shown."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from sigsim.board.edit_file import changed
from sigsim.board.edit_table import Way, table_at, with_keys
from sigsim.board.targets import OUT, SECTIONS
from sigsim.errors import SigsimError, UnknownNameError, quote
from sigsim.live.edits.inline import inline
from sigsim.live.edits.registry import Asked, Edited, edits

if TYPE_CHECKING:
    from sigsim.board.model import Board


def name_in_file(board: Board, label: str) -> str:
    """Return what the file calls a thing to which the variant shown may give another name."""
    shown = board.changes.variants
    altered = (one for v in board.versions if v.name in shown for one in v.altered)
    return next((one.name for one in altered if one.now == label), label)


def _way(variant: str, name: str) -> Way:
    """Return the way to what a variant says of a name."""
    word, dot, rest = name.partition(".")
    if dot and (SECTIONS.get(word) or word == "instrument"):
        return ("variants", variant, word, rest)
    return ("variants", variant, name)


def into_variant(asked: Asked, name: str, keys: Mapping[str, Any], *, instead: bool = False) -> str:
    """Return the file's text with values in the table of the variant that is shown.

    Parameters
    ----------
    asked : the edit
    name : of what, as a variant names it
    keys : new values by key; None takes one out
    instead : whether all that the variant says of it otherwise goes, but for a new name and the
        lengths in which it is bought

    Raises
    ------
    SigsimError : a value is to go that the variant does not give
    """
    way = _way(asked.variant, name)
    there = table_at(tomllib.loads(asked.text), way) or {}
    for key, value in keys.items():
        if value is None and key not in there:
            raise SigsimError(
                f"a variant gives other values, and takes none away: {key} stands in the file as "
                "it is written",
                accepted='choose "as written" first, or another value',
            )
    kept = ("stage", "loop", "split", "tap", "name", "sold")
    gone = {key: None for key in there if instead and key not in kept}
    given = {k: inline(v) if isinstance(v, Mapping) else v for k, v in keys.items()}
    return with_keys(asked.text, way, {**gone, **given})


def out_of_variant(asked: Asked, name: str) -> str:
    """Return the file's text with a thing left out in the variant that is shown."""
    way: Way = ("variants", asked.variant)
    text = asked.text
    table = table_at(tomllib.loads(text), way) or {}
    if name in table:
        text = with_keys(text, way, {name: None})
    out = table.get(OUT, [])
    if name in out:
        return text
    if not out:
        return with_keys(text, way, {OUT: [name]})
    variant = asked.variant
    return changed(text, lambda data, _: data["variants"][variant][OUT].append(name))


def followed(text: str, before: str, now: str | None) -> str:
    """Return a text whose variants mean a thing by its new name, or no longer speak of it.

    Parameters
    ----------
    text : of the file
    before, now : the names; None for what is taken out
    """
    tables = tomllib.loads(text).get("variants", {})
    if not any(before in table or before in table.get(OUT, []) for table in tables.values()):
        return text

    def change(data: Any, new: Any) -> None:
        for name, table in list(data["variants"].items()):
            if before in table:
                given = table.pop(before)
                new.set(table, {} if now is None else {now: given})
                if not len(table):  # its header may have been that of what is gone
                    data["variants"][name] = {}
            out = table.get(OUT, [])
            for index in reversed([i for i, name in enumerate(out) if name == before]):
                if now is None:
                    del out[index]
                else:
                    out[index] = now

    return changed(text, change, "variants with tables of their own")


@edits("variant-new")
def variant_new(asked: Asked) -> Edited:
    """Begin a variant that changes nothing yet."""
    name = asked.word("name")
    if name in asked.board.variants:
        raise SigsimError("there is a variant of this name already", found=quote(name))
    return Edited(with_keys(asked.text, ("variants", name), {}), f"a variant {name}")


@edits("variant-out")
def variant_out(asked: Asked) -> Edited:
    """Take a variant out of the file."""
    name = asked.word("name")
    _refuse_unknown(asked, name)

    def change(data: Any, _: Any) -> None:
        del data["variants"][name]
        if not len(data["variants"]):
            del data["variants"]

    text = changed(asked.text, change, "a variant with a [header] of its own")
    return Edited(text, f"take out the variant {name}")


@edits("variant")
def variant(asked: Asked) -> Edited:
    """Show a variant: the file stays as it is."""
    name = asked.edit.get("name", "")
    if name != "":
        _refuse_unknown(asked, asked.word("name"))
    return Edited(asked.text, "")


def _refuse_unknown(asked: Asked, name: str) -> None:
    if name not in asked.board.variants:
        raise UnknownNameError("variant", name, asked.board.variants)
