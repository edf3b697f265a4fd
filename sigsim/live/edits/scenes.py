"""Edits of scenes: made, called by another name, and taken out."""

from __future__ import annotations

import re
import tomllib
from typing import TYPE_CHECKING, Any

from sigsim.board.edit_file import changed
from sigsim.board.edit_table import with_keys
from sigsim.board.headers import bared, headers
from sigsim.errors import SigsimError, UnknownNameError, quote
from sigsim.live.edits.registry import Asked, Edited, edits
from sigsim.live.edits.variants import name_in_file

if TYPE_CHECKING:
    from collections.abc import Mapping

_KEY = re.compile(r"""[ \t]*(?P<key>"(?:[^"\\\n]|\\[^\n])*"|'[^'\n]*'|[A-Za-z0-9_-]+)[ \t]*=""")


@edits("scene")
def scene(asked: Asked) -> Edited:
    """Make a scene of what is on, or let one of that name have other things on."""
    name, on = asked.word("name"), asked.words("on")
    known = name in asked.board.scenes
    asked.board.checked(on, f"scene {quote(name)}")
    words = f"scene {name}: {', '.join(on) or 'all off'}" if known else f"a scene {name}"
    # A scene names things as the file does, also where a variant gives one another name.
    listed = [name_in_file(asked.board, one) for one in on]
    if name in tomllib.loads(asked.text).get("scenes", {}):
        return Edited(_with_names(asked.text, name, listed), words)
    return Edited(with_keys(asked.text, ("scenes",), {name: listed}), words)


def _with_names(text: str, scene: str, listed: list[str]) -> str:
    """Return the text with other names in a scene; those that stay keep their place and remarks."""

    def change(data: Any, _: Any) -> None:
        on = data["scenes"][scene]
        for index in reversed([i for i, name in enumerate(on) if name not in listed]):
            del on[index]
        for name in listed:
            if name not in on:
                on.append(name)

    try:
        return changed(text, change)
    except SigsimError:
        return with_keys(text, ("scenes",), {scene: listed})


@edits("scene-out")
def scene_out(asked: Asked) -> Edited:
    """Take a scene out of the file."""
    name = asked.word("name")
    _refuse_unknown(asked, name)
    return Edited(with_keys(asked.text, ("scenes",), {name: None}), f"take out the scene {name}")


@edits("scene-name")
def scene_name(asked: Asked) -> Edited:
    """Give a scene another name; it keeps its line."""
    name, to = asked.word("name"), asked.word("to")
    _refuse_unknown(asked, name)
    if to in asked.board.scenes:
        raise SigsimError("there is a scene of this name already", found=quote(to))
    wanted = tomllib.loads(asked.text)
    wanted["scenes"] = {to if key == name else key: on for key, on in wanted["scenes"].items()}
    made = _renamed(asked.text, name, to)
    if made is None or not _says(made, wanted):
        made = with_keys(asked.text, ("scenes",), {name: None, to: wanted["scenes"][to]})
    return Edited(made, f"scene {name} is now {to}")


def _refuse_unknown(asked: Asked, name: str) -> None:
    if name not in tomllib.loads(asked.text).get("scenes", {}):
        raise UnknownNameError("scene", name, tuple(asked.board.scenes))


def _renamed(text: str, name: str, to: str) -> str | None:
    """Return the text with another key in a line of `[scenes]`, None if there is no such line."""
    import tomlkit

    lines, bare = text.split("\n"), bared(text).split("\n")
    found = [*headers(text)]
    begin = next((h.line for h in found if h.path == ("scenes",) and not h.doubled), None)
    if begin is None:
        return None
    end = next((h.line - 1 for h in found if h.line > begin), len(lines))
    for number in range(begin, end):
        line = _KEY.match(lines[number])
        if line is None or "=" not in bare[number] or _key(line["key"]) != name:
            continue
        key = tomlkit.key(to).as_string()
        lines[number] = lines[number][: line.start("key")] + key + lines[number][line.end("key") :]
        return "\n".join(lines)
    return None


def _key(written: str) -> str:
    try:
        return next(iter(tomllib.loads(f"{written} = 0")))
    except tomllib.TOMLDecodeError:
        return ""


def _says(text: str, wanted: Mapping[str, Any]) -> bool:
    try:
        return tomllib.loads(text) == wanted
    except tomllib.TOMLDecodeError:
        return False
