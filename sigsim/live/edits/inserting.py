"""Edits that put something into a gap: a part, a tap, a split, a loop, a cable."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING, Any, Final

from sigsim.board import edit, edit_file
from sigsim.board.edit import free_name
from sigsim.board.put_in import length_value, put_in
from sigsim.errors import SigsimError, UnknownNameError, quote
from sigsim.items.cable import Cable
from sigsim.items.loop import Loop
from sigsim.live.boards import board_of
from sigsim.live.edits.inline import inline
from sigsim.live.edits.named import after_words, article
from sigsim.live.edits.registry import Asked, Edited, edits, refusal
from sigsim.live.edits.ways import refuse_included
from sigsim.units import parse

if TYPE_CHECKING:
    from sigsim.board.edit import Place
    from sigsim.board.model import Board

_KINDS: Final = ("stage", "tap", "split", "loop", "cable")
# What a side way is given until somebody says better.
_TAP_LENGTH, _SPLIT_LENGTH = "1.5 m", "5 m"
_PATCH_LENGTH: Final = "20 cm"
_SPLIT_END: Final = "instrument-input"


@edits("insert")
def insert(asked: Asked) -> Edited:
    """Put something into a gap."""
    asked.as_written()
    board, place = asked.board, _gap(asked)
    refuse_included(board, place)
    kind = asked.word("kind", "stage")
    if kind not in _KINDS:
        raise refusal("nothing of this kind can be put in", kind, ", ".join(_KINDS))
    made, what = {
        "stage": _stage,
        "tap": _tap,
        "split": _split,
        "loop": _loop,
        "cable": _cable,
    }[kind](asked, place)
    words = f"{what} {after_words(board, place)}{_plugged(board, place, kind)}"
    return Edited(made, words)


def _gap(asked: Asked) -> Place:
    """Return the place of a gap; before the instrument's lead there is none."""
    place = asked.place("gap")
    lead = asked.board.lead_place
    if lead is not None and place <= lead:
        raise SigsimError(
            "the lead goes from the instrument to the first box: there is no gap before it",
            accepted="a gap behind the lead",
        )
    return place


def _plugged(board: Board, place: Place, kind: str) -> str:
    """Return what is to be known of a box between two others of a board without wiring."""
    if kind not in ("stage", "loop") or board.wiring is not None:
        return ""
    items = edit.siblings(board, place)
    beside = [*items[max(0, place[-1] - 1) : place[-1]], *items[place[-1] : place[-1] + 1]]
    bare = any(not isinstance(item, Cable) for item in beside)
    return ", plugged straight in" if bare else ""


def new_name(board: Board, part: str) -> str:
    """Return a name for a box of a part that nothing on the board has yet."""
    word = part.split("-")[0] if part.isascii() else part
    return free_name(board, word)


def _stage(asked: Asked, place: Place) -> tuple[str, str]:
    board, part = asked.board, asked.word("part")
    board.library.part(part, ("stage",))
    name = asked.word("name", "") or new_name(board, part)
    keys = {"stage": name, "part": part}
    return _boxed(asked, place, keys), article(name)


def _boxed(asked: Asked, place: Place, keys: dict[str, Any]) -> str:
    """Return the text with a box in it, with cables beside it where a layout gives them."""
    text = edit_file.inserted(asked.text, place, keys)
    if not asked.board.has_layout:
        return text
    box = edit.item_at(board_of(text, asked.path), place)
    return put_in(asked.text, asked.board, place, box, keys, "")


def _role(asked: Asked, otherwise: str) -> str:
    """Return the kind of cable that is asked for, or one that the file has."""
    own = tuple(tomllib.loads(asked.text).get("cables", {}))
    given = asked.edit.get("cable")
    if given is not None:
        role = asked.word("cable")
        if role not in own:
            raise UnknownNameError("cable", role, own)
        return role
    wiring = asked.board.wiring
    if otherwise not in own and wiring is not None and wiring.cable in own:
        return wiring.cable
    if not own:
        raise SigsimError(
            "this file has no kind of cable yet", accepted="a table [cables.lead] in the file first"
        )
    return otherwise if otherwise in own else own[0]


def _length(asked: Asked, otherwise: str) -> str:
    text = asked.word("length", otherwise)
    parse(text, "length")
    return text


def _name(asked: Asked, otherwise: str) -> str:
    return asked.word("name", "") or free_name(asked.board, otherwise)


def _tap(asked: Asked, place: Place) -> tuple[str, str]:
    name = _name(asked, "tuner output")
    keys: dict[str, Any] = {"tap": name, "cable": _role(asked, "patch")}
    keys["length"] = _length(asked, _TAP_LENGTH)
    if part := asked.word("part", ""):
        asked.board.library.part(part, ("destination",))
        keys["part"] = part
    else:
        keys["open"] = True
    return edit_file.inserted(asked.text, place, keys), f"the tap {name}"


def _split(asked: Asked, place: Place) -> tuple[str, str]:
    name, part = _name(asked, "second output"), asked.word("part", _SPLIT_END)
    asked.board.library.part(part, ("destination",))
    keys = {"split": name, "destination": inline({"part": part})}
    text = edit_file.inserted(asked.text, place, keys)
    cable = {"cable": _role(asked, "lead"), "length": _length(asked, _SPLIT_LENGTH)}
    return _with_inside(text, place, cable), f"the split {name}"


def _loop(asked: Asked, place: Place) -> tuple[str, str]:
    """Put in a loop with a box in it, or with a patch from its send to its return."""
    board, name = asked.board, _name(asked, "loop 1")
    if part := asked.word("part", ""):
        board.library.part(part, ("stage",))
        inside: dict[str, Any] = {"stage": new_name(board, part), "part": part}
    else:
        inside = {"cable": _role(asked, "patch"), "length": _length(asked, _patch(board))}
    keys: dict[str, Any] = {"loop": name, "inside": [inline(inside)]}
    text = edit_file.inserted(asked.text, place, keys)
    boxed = board_of(text, asked.path)
    if board.has_layout and isinstance(loop := edit.item_at(boxed, place), Loop):
        return put_in(asked.text, board, place, loop, keys, ""), f"the loop {name}"
    return text, f"the loop {name}"


def _with_inside(text: str, place: Place, keys: dict[str, Any]) -> str:
    return edit_file.inserted(text, (*place, 0), keys)


def _patch(board: Board) -> str:
    return _PATCH_LENGTH if board.wiring is None else length_value(board.wiring.length)


def _cable(asked: Asked, place: Place) -> tuple[str, str]:
    role = asked.word("name", "")
    if role and role not in asked.board.cables:
        raise UnknownNameError("cable", role, tuple(asked.board.cables), where=quote("insert"))
    role = role or _role(asked, "patch")
    keys = {"cable": role, "length": _length(asked, _patch(asked.board))}
    return edit_file.inserted(asked.text, place, keys), article(f"{role} cable")
