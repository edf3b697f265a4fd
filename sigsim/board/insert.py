"""Putting a stage into the text of a board file, everything else left as it is."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from typing import Any

from sigsim.errors import SigsimError

_HEADER = re.compile(r"^\s*\[\[\s*chain\s*\]\]\s*(#.*)?$")
_ANY_HEADER = re.compile(r"^\s*\[.*\]\s*(#.*)?$")


def insert_stage(text: str, index: int, keys: dict[str, Any], remark: str) -> str:
    """Return the text of a board file with a stage put into its chain.

    Parameters
    ----------
    text : of the file, valid TOML with a chain
    index : how many items of the chain come before the new one
    keys : of the new table
    remark : a comment for the reader

    Returns
    -------
    the new text; comments and layout are kept, and what it says is checked

    Raises
    ------
    SigsimError : the new text would not say the same with the stage in it
    """
    wanted = tomllib.loads(text)
    wanted["chain"].insert(index, dict(keys))
    # A line that looks like a header may stand inside a text in quotes, so that places are tried
    # until the file says what it should.
    for made in _candidates(text, index, keys, remark):
        if _says(made, wanted):
            return made
    raise SigsimError(
        "the stage could not be put into this file's text without changing something else",
        accepted="a chain written as [[chain]] tables",
    )


def _candidates(text: str, index: int, keys: dict[str, Any], remark: str) -> Iterator[str]:
    lines = text.splitlines(keepends=True)
    block = f"[[chain]]  # {remark}\n{_as_toml(keys)}"
    ends = [n for n, line in enumerate(lines) if _HEADER.match(line) or _ends_chain(line)]
    for at in [*ends[index:], *ends[:index], len(lines)]:
        yield _inserted(lines, _above_comments(lines, at), block)
    yield _with_tomlkit(text, index, keys)


def _says(text: str, wanted: dict[str, Any]) -> bool:
    try:
        return tomllib.loads(text) == wanted
    except tomllib.TOMLDecodeError:
        return False


def _inserted(lines: list[str], at: int, block: str) -> str:
    """Return the lines with a block put in, set off by empty lines, in the file's line ends."""
    newline = "\r\n" if any(line.endswith("\r\n") for line in lines) else "\n"
    before, after = list(lines[:at]), lines[at:]
    if before and not before[-1].endswith("\n"):
        before[-1] += newline
    gap = newline if before and before[-1].strip() else ""
    return "".join([*before, gap, block.replace("\n", newline), newline if after else "", *after])


def _ends_chain(line: str) -> bool:
    return bool(_ANY_HEADER.match(line)) and not re.match(r"^\s*\[\[?\s*chain\b", line)


def _above_comments(lines: list[str], at: int) -> int:
    while at and lines[at - 1].lstrip().startswith("#"):
        at -= 1
    return at


def _as_toml(keys: dict[str, Any]) -> str:
    import tomlkit

    return tomlkit.dumps(keys)


def _with_tomlkit(text: str, index: int, keys: dict[str, Any]) -> str:
    """Insert through a parser that keeps the layout, for a chain that is written in one value."""
    import tomlkit

    document = tomlkit.parse(text)
    chain: Any = document["chain"]
    table: Any = tomlkit.table() if isinstance(chain, tomlkit.items.AoT) else tomlkit.inline_table()
    table.update(keys)
    chain.insert(index, table)
    return tomlkit.dumps(document)
