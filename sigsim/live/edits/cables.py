"""Edits of cables: how long they are, and of which kind."""

from __future__ import annotations

import re
import tomllib
from typing import TYPE_CHECKING, Any, Final

from sigsim.board import edit, edit_file
from sigsim.board.edit_inside import refuse_other_cable
from sigsim.board.edit_table import table_at, with_keys
from sigsim.board.included import of_board
from sigsim.board.put_in import length_value
from sigsim.errors import SigsimError, UnknownNameError, quote
from sigsim.items.cable import Cable, CableSpec
from sigsim.items.loop import Loop
from sigsim.items.tap import Tap
from sigsim.live.edits import quick
from sigsim.live.edits.inline import inline
from sigsim.live.edits.named import LEADS, about_cable, cable_words, change_words, spoken
from sigsim.live.edits.registry import Asked, Edited, edits, refusal
from sigsim.live.edits.variants import into_variant, name_in_file
from sigsim.live.edits.ways import refuse_included, way_of
from sigsim.quantities import length_text
from sigsim.units import Written, parse

if TYPE_CHECKING:
    from sigsim.board.edit import Place


_PLAIN: Final = re.compile(r"[0-9]+(?:\.[0-9]*)?|\.[0-9]+")
_UNIT: Final = re.compile(r"[^0-9.\s]+$")


def _length(asked: Asked) -> str:
    """Return a length as it was typed, which can be read."""
    text = asked.word("length")
    parse(text, "length")
    return text


@edits("length")
def length(asked: Asked) -> Edited:
    """Give one cable another length; a patch in no line of the file becomes one of its own."""
    return _piece(asked, {"length": _length(asked)})


@edits("cable")
def kind(asked: Asked) -> Edited:
    """Take another kind of cable for one piece."""
    role = asked.word("name")
    if role not in asked.board.cables:
        raise UnknownNameError("cable", role, tuple(asked.board.cables))
    return _piece(asked, {"cable": role})


def _piece(asked: Asked, keys: dict[str, Any]) -> Edited:
    """Change one piece of cable, wherever its keys stand."""
    spot = asked.spot()
    if "wiring" in spot:
        return _of_wiring(asked, keys)
    place = asked.place()
    item = edit.item_at(asked.board, place)
    if isinstance(item, Loop) and spot.get("lead") in LEADS:
        return _of_loop(asked, item, place, LEADS[spot["lead"]], keys)
    if isinstance(item, Tap):
        keys = _as_before(keys, item.cable.length)
        words = _words(item.tap, item.cable, keys)
        if asked.variant:
            refuse_included(asked.board, place)
            name = name_in_file(asked.board, item.tap)
            return Edited(into_variant(asked, name, keys), words)
        return Edited(quick.with_values(asked.text, place, keys), words)
    if not isinstance(item, Cable):
        raise refusal("this is no cable", item.label, "a cable or a tap on the line")
    asked.as_written()
    old = _as_made(asked, item)
    keys = _as_before(keys, old.length)
    words = _words(cable_words(asked.board, place), old, keys)
    return Edited(quick.with_values(asked.text, place, keys), words)


def _as_before(keys: dict[str, Any], length: Any) -> dict[str, Any]:
    """Return keys in which a length that is a plain number has the unit of the one before."""
    text = keys.get("length", "")
    if length is None or not _PLAIN.fullmatch(text):
        return keys
    unit = _UNIT.search(length_text(length))
    return {**keys, "length": f"{text} {unit[0]}"} if unit else keys


def _words(what: str, cable: Cable, keys: dict[str, Any]) -> str:
    if "length" in keys:
        return change_words(what, cable.length, keys["length"])
    return f"{what}: {cable.cable} → {keys['cable']}"


def _as_made(asked: Asked, cable: Cable) -> Cable:
    """Return a cable with the length that the layout gives it."""
    if cable.lays is None:
        return cable
    at = [item for _, item in edit.places(asked.board) if isinstance(item, Cable)]
    number = next(i for i, item in enumerate(at) if item is cable)
    listed = [run for run in asked.board.runs if run.listed]
    made = listed[number].made if len(listed) == len(at) else None
    return made or cable


def _of_wiring(asked: Asked, keys: dict[str, Any]) -> Edited:
    """Write a patch that `[wiring]` or the layout puts there as a line of its own."""
    asked.as_written()
    place = asked.place(within="wiring")
    refuse_included(asked.board, place)
    about = about_cable(asked.board, place, wiring=True)
    if about is None:
        raise refusal("no patch lies here", None, "a patch on the line")
    length = Written(about["length"], about["lengthText"])
    old = Cable(cable=about["cable"], spec=CableSpec(), length=length)
    keys = _as_before(keys, length)
    whole = {"cable": old.cable, "length": length_value(length), **keys}
    text = edit_file.inserted(asked.text, place, whole)
    return Edited(text, _words(about["name"], old, keys))


def _of_loop(asked: Asked, loop: Loop, place: Place, side: str, keys: dict[str, Any]) -> Edited:
    """Change the cable to or from the board that a loop holds."""
    board = asked.board
    refuse_included(board, place)
    if not loop.board:
        raise refusal("this loop holds no board of another file", loop.loop, "one that does")
    piece = loop.inside[0 if side == "lead_out" else -1]
    what = f"cable {'out to' if side == 'lead_out' else 'back from'} {loop.loop}"
    old = piece if isinstance(piece, Cable) else Cable(cable="", spec=CableSpec(), length=0.0)
    keys = _as_before(keys, old.length)
    words = _words(what, old, keys)
    table = tomllib.loads(asked.text)
    if asked.variant:
        name = name_in_file(board, loop.loop)
        now = {"cable": old.cable, "length": length_value(old.length), **keys}
        return Edited(into_variant(asked, name, {side: now}), words)
    way = (*way_of(place), side)
    if table_at(table, way) is not None:
        return Edited(with_keys(asked.text, way, keys), words)
    if board.wiring is None and "cable" not in keys and old.cable not in board.cables:
        raise refusal("the file does not say which cable this is", None, f"{side} in the file")
    own = table.get("cables", {})
    called = old.cable.removeprefix(of_board(loop.loop))
    usual = board.wiring.cable if board.wiring else keys.get("cable", called)
    role = called if called in own else usual
    whole = {"cable": role, "length": length_value(old.length), **keys}
    return Edited(edit_file.with_values(asked.text, place, {side: inline(whole)}), words)


@edits("all-lengths")
def all_lengths(asked: Asked) -> Edited:
    """Give all patches that stand in no line of the file another length."""
    board = asked.board
    before = board.wiring.length if board.wiring else None
    text = _as_before({"length": _length(asked)}, before)["length"]
    words = change_words("all patches", before, text)
    keys = {"length": text}
    if board.wiring is None:
        keys["cable"] = asked.word("name", _patch_role(asked))
    if asked.variant:
        return Edited(into_variant(asked, "wiring", keys), words)
    return Edited(with_keys(asked.text, ("wiring",), keys), words)


def _patch_role(asked: Asked) -> str:
    """Return which kind of cable would be the wiring of a file without any.

    Raises
    ------
    SigsimError : it cannot be told
    """
    own = tuple(tomllib.loads(asked.text).get("cables", {}))
    if "patch" in own or len(own) == 1:
        return "patch" if "patch" in own else own[0]
    raise SigsimError(
        "this file has no [wiring], so that it is not known which cable is meant",
        accepted=", ".join(map(quote, own)) or "a table under [cables] first",
    )


@edits("cable-part")
def cable_part(asked: Asked) -> Edited:
    """Take another cable for all pieces of a kind."""
    role, part = asked.word("name"), asked.word("part")
    if role not in asked.board.cables:
        raise UnknownNameError("cable", role, tuple(asked.board.cables))
    refuse_other_cable(tomllib.loads(asked.text), role)
    asked.board.library.part(part, ("cable",))
    before = asked.board.cables[role].part or "its own figures"
    words = f"{role}: {spoken(before)} → {spoken(part)}"
    if asked.variant:
        text = into_variant(asked, f"cables.{role}", {"part": part}, instead=True)
        return Edited(text, words)
    table = table_at(tomllib.loads(asked.text), ("cables", role)) or {}
    # In which lengths it is bought belongs to the player's shop, not to what it was.
    kept = {"sold": table["sold"]} if "sold" in table else {}
    return Edited(edit_file.with_cable(asked.text, role, {**kept, "part": part}), words)
