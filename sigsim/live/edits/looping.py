"""Edits that put a loop around a box, or take one away and keep what is in it."""

from __future__ import annotations

import re
import tomllib
from typing import TYPE_CHECKING, Any, Final

from sigsim.board import edit
from sigsim.board.edit import free_name
from sigsim.board.edit_file import changed
from sigsim.board.edit_inside import forget
from sigsim.board.headers import headers
from sigsim.board.reorder_file import counted
from sigsim.errors import SigsimError
from sigsim.items.cable import Cable
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.items.tap import Tap
from sigsim.live.edits.registry import Asked, Edited, edits, refusal
from sigsim.live.edits.ways import refuse_included

if TYPE_CHECKING:
    from sigsim.board.edit import Place

_NAME: Final = r"""(?:"(?:[^"\\\n]|\\[^\n])*"|'[^'\n]*'|[A-Za-z0-9_-]+)"""
_ACCEPTED: Final = "a chain written as [[chain]] tables"


@edits("loop-around")
def loop_around(asked: Asked) -> Edited:
    """Put a loop around one box."""
    asked.as_written()
    board, place = asked.board, asked.place()
    item = edit.item_at(board, place)
    refuse_included(board, place)
    if isinstance(item, Cable | Tap | Split):
        raise refusal("a loop goes around a box", item.label, "a stage or a loop")
    name = asked.word("name", "") or free_name(board, "loop 1")
    wanted = tomllib.loads(asked.text)
    items = _level(wanted, place)
    items[place[-1]] = {"loop": name, "inside": [items[place[-1]]]}
    made = _around(asked.text, place, name)
    text = _in_scenes(_checked(made, wanted), item.label, name, item.label in board.switches())
    return Edited(text, f"a loop around {item.label}")


@edits("loop-away")
def loop_away(asked: Asked) -> Edited:
    """Take a loop away and keep what is in it."""
    asked.as_written()
    board, place = asked.board, asked.place()
    loop = edit.item_at(board, place)
    refuse_included(board, place)
    if not isinstance(loop, Loop):
        raise refusal("this is no loop", loop.label, "a loop on the line")
    if loop.board:
        raise refusal(
            "what is in this loop stands in another file", loop.board, "take out the loop"
        )
    wanted = tomllib.loads(asked.text)
    items = _level(wanted, place)
    items[place[-1] : place[-1] + 1] = items[place[-1]]["inside"]
    text = _checked(_away(asked.text, place), wanted)
    gone = {"loop": loop.loop}
    made = changed(text, lambda data, _: forget(data, gone, ()), _ACCEPTED)
    return Edited(made, f"the loop {loop.loop} away, and what was in it stays")


def _in_scenes(text: str, label: str, loop: str, switched: bool) -> str:
    """Return the text with the loop in where its box is on: each scene sounds as before."""
    scenes = tomllib.loads(text).get("scenes", {})
    heard = [name for name, on in scenes.items() if not switched or label in on]

    def change(data: Any, _: Any) -> None:
        for name in heard:
            data["scenes"][name].append(loop)

    return changed(text, change, "scenes with lists of names") if heard else text


def _level(data: Any, place: Place) -> list[Any]:
    items: list[Any] = data["chain"]
    for index in place[:-1]:
        items = items[index]["inside"]
    return items


def _of(text: str, place: Place) -> list[tuple[int, bool, int]]:
    """Return the lines, from 0, of the headers of an item and of all that is in it.

    Returns
    -------
    of each its line, whether it begins a table of a chain, and how deep that is
    """
    return [
        (header.line - 1, begins, len(at))
        for header, at, begins in counted(headers(text))
        if at[: len(place)] == place
    ]


def _around(text: str, place: Place, name: str) -> str | None:
    """Return the text with a loop around a box, None if its header is not found."""
    import tomlkit

    found = _of(text, place)
    if not found or not (found[0][1] and found[0][2] == len(place)):
        return None
    lines = text.split("\n")
    for number, _, _ in found:
        lines[number] = _deeper(lines[number], len(place))
    end = "\r" if lines[found[0][0]].endswith("\r") else ""
    header = f"[[chain{'.inside' * (len(place) - 1)}]]{end}"
    loop = f"loop = {tomlkit.item(name).as_string()}{end}"
    lines[found[0][0] : found[0][0]] = [header, loop]
    return "\n".join(lines)


def _away(text: str, place: Place) -> str | None:
    """Return the text without a loop around what is in it, None if its header is not found."""
    found = _of(text, place)
    inside = [number for number, begins, depth in found if begins and depth == len(place) + 1]
    if not inside or not (found[0][1] and found[0][2] == len(place)):
        return None
    lines = text.split("\n")
    for number, _, depth in found:
        if depth > len(place):
            lines[number] = _shallower(lines[number], len(place))
    begin = found[0][0]
    kept = [line for line in lines[begin + 1 : inside[0]] if line.lstrip().startswith("#")]
    lines[begin : inside[0]] = kept
    return "\n".join(lines)


def _deeper(line: str, depth: int) -> str:
    """Return a header with one more `inside` behind its first names."""
    way = re.compile(rf"([ \t]*\[\[?[ \t]*{_NAME}(?:[ \t]*\.[ \t]*{_NAME}){{{depth - 1}}})")
    return way.sub(r"\1.inside", line, count=1)


def _shallower(line: str, depth: int) -> str:
    """Return a header without the `inside` behind its first names."""
    names = rf"{_NAME}(?:[ \t]*\.[ \t]*{_NAME}){{{depth - 1}}}"
    way = re.compile(rf"([ \t]*\[\[?[ \t]*{names})[ \t]*\.[ \t]*{_NAME}")
    return way.sub(r"\1", line, count=1)


def _checked(text: str | None, wanted: Any) -> str:
    """Return a text that says what is wanted.

    Raises
    ------
    SigsimError : it does not
    """
    try:
        if text is not None and tomllib.loads(text) == wanted:
            return text
    except tomllib.TOMLDecodeError:
        pass
    raise SigsimError(
        "this change could not be made in the file's text without changing something else",
        accepted=_ACCEPTED,
    )
