"""Values that stand on lines of their own: put in without taking the whole text apart.

While a cable is dragged its length changes many times a second.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final

from sigsim.board import edit_file
from sigsim.board.headers import headers
from sigsim.board.reorder_file import counted

if TYPE_CHECKING:
    from sigsim.board.edit import Place

# What other things go by has to be followed.
_NAMING: Final = frozenset({"stage", "loop", "tap", "split"})
_VALUE: Final = r"""("[^"\\\r\n]*"|'[^'\r\n]*'|[0-9.]+|true|false)"""
_LINE: Final = rf"([ \t]*{{key}}[ \t]*=[ \t]*){_VALUE}([ \t]*(?:#.*)?\r?)"


def with_values(text: str, place: Place, keys: Mapping[str, Any]) -> str:
    """Return a file's text with other values of the item at a place, as `edit_file` does.

    Parameters
    ----------
    text : of the file, a valid board
    place : of the item
    keys : new values by key; None takes a key out

    Raises
    ------
    SigsimError : the text would not say the same otherwise
    """
    if not _NAMING & {*keys} and all(isinstance(value, str) for value in keys.values()):
        made = _replaced(text, place, keys)
        if made is not None:
            return made
    return edit_file.with_values(text, place, keys)


def _replaced(text: str, place: Place, keys: Mapping[str, str]) -> str | None:
    """Return the text with values of lines that are there, None where that is not so simple."""
    found = [*counted(headers(text))]
    number = next((n for n, (_, at, begins) in enumerate(found) if begins and at == place), None)
    if number is None:
        return None
    begin = found[number][0].line
    end = found[number + 1][0].line - 1 if number + 1 < len(found) else None
    lines = text.split("\n")
    own = lines[begin:end]
    for key, value in keys.items():
        way = re.compile(_LINE.format(key=re.escape(key)))
        there = [(i, match) for i, line in enumerate(own) if (match := way.fullmatch(line))]
        if len(there) != 1:
            return None
        index, match = there[0]
        own[index] = f"{match[1]}{_quoted(value)}{match[3]}"
    lines[begin:end] = own
    made = "\n".join(lines)
    return made if _says(made, text, place, keys) else None


def _quoted(value: str) -> str:
    import tomlkit

    return tomlkit.item(value).as_string()


def _says(made: str, text: str, place: Place, keys: Mapping[str, str]) -> bool:
    """Whether a text says what another one does, with other values of one item."""
    try:
        wanted, found = tomllib.loads(text), tomllib.loads(made)
        items = wanted["chain"]
        for index in place[:-1]:
            items = items[index]["inside"]
        items[place[-1]].update(keys)
    except (tomllib.TOMLDecodeError, LookupError, TypeError):
        return False
    return bool(found == wanted)
