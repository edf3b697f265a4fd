"""The lines on which the tables of a board file begin, for messages.

A parser of TOML keeps no line numbers, so the text is looked through for what stands in brackets.
What is written without a header of its own (an inline table, a dotted key) has no line here.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

from sigsim.errors import Problem, quote

# Texts and remarks, which may hold brackets of their own; one without an end goes on to the end of
# its line or of the file.
HIDDEN: Final = re.compile(
    r"""
    "{3}(?:[^"\\]|\\.|"(?!""))*+(?:"{3,5}|\Z)
    | '{3}(?:[^']|'(?!''))*+(?:'{3,5}|\Z)
    | \#[^\n]*+
    | "(?:[^"\\\n]|\\[^\n])*+"?
    | '[^'\n]*+'?
    """,
    re.VERBOSE | re.DOTALL,
)
_LONGEST: Final = 1000
_SECTIONS: Final = [
    "instrument",
    "destination",
    "cables",
    "wiring",
    "layout",
    "boxes",
    "scenes",
    "chain",
]


@dataclass(frozen=True)
class Header:
    """One line in brackets.

    Attributes
    ----------
    line : its number, from 1
    path : the names in the brackets, as ("cables", "lead")
    doubled : whether the brackets are double
    """

    line: int
    path: tuple[str, ...]
    doubled: bool


def bared(text: str) -> str:
    """Return a text with blanks for all letters of its strings and remarks, line ends kept."""
    return HIDDEN.sub(lambda found: re.sub(r"[^\n]", " ", found[0]), text)


def headers(text: str) -> Iterator[Header]:
    """Yield the headers of a board file in order, also of one that is not valid."""
    bare = bared(text)
    depth = 0
    for number, (line, seen) in enumerate(
        zip(text.split("\n"), bare.split("\n"), strict=True), start=1
    ):
        if depth == 0 and seen.lstrip().startswith("["):
            yield from _header(number, line.removesuffix("\r"))
            continue
        depth += sum(map(seen.count, "[{")) - sum(map(seen.count, "]}"))
        depth = max(depth, 0)


def _header(number: int, line: str) -> Iterator[Header]:
    try:
        inner: Any = tomllib.loads(line[:_LONGEST])
    except (ValueError, RecursionError):
        return
    path: list[str] = []
    doubled = False
    while inner:
        key, inner = next(iter(inner.items()))
        path.append(key)
        doubled = isinstance(inner, list)
        inner = inner[0] if doubled else inner
    yield Header(number, tuple(path), doubled)


def located(problems: Iterable[Problem], text: str, data: Mapping[str, Any]) -> list[Problem]:
    """Return problems that name the line from which their table goes, where there is one.

    Parameters
    ----------
    problems : as found in the parsed file
    text : of the file
    data : the parsed file
    """
    lines = _lines(text, data)
    return [_located(problem, lines) for problem in problems]


def _located(problem: Problem, lines: Mapping[str, int]) -> Problem:
    where = problem.where
    # From the whole place to its beginning: names may hold commas too.
    ends = [len(where), *(found.start() for found in re.finditer(", ", where))]
    found = (lines[where[:end]] for end in sorted(ends, reverse=True) if where[:end] in lines)
    line = next(found, None)
    return problem if line is None else replace(problem, where=f"from line {line}, {where}")


def _lines(text: str, data: Mapping[str, Any]) -> dict[str, int]:
    """Return the line of every table by what messages call its place; only what is unambiguous."""
    lines: dict[str, int] = {}
    twice: set[str] = set()
    counts: list[int] = []
    pickups = 0
    for header in headers(text):
        if header.path == ("instrument", "pickups") and header.doubled:
            pickups += 1
        if header.doubled and header.path == ("chain",) + ("inside",) * (len(header.path) - 1):
            depth = len(header.path)
            counts = (counts + [0] * depth)[:depth]
            counts[-1] += 1
        place = _place(header, counts, pickups, data)
        if place in lines:
            twice.add(place)
        lines[place] = header.line
    return {place: line for place, line in lines.items() if place and place not in twice}


def _of_variant(path: tuple[str, ...]) -> str:
    """Return what messages call a table of a variant, or one of the tables in it."""
    place = f"[variants.{quote(path[1]).strip(chr(34))}]"
    words = ("instrument", "destination", "wiring", "layout")
    if path[2:3] in (("cables",), ("supplies",), ("boxes",)):
        return f"{place}, {'.'.join(path[2:])}" if len(path) == 4 else ""
    if len(path) == 3:
        return f"{place}, {path[2] if path[2] in words else quote(path[2])}"
    return place if len(path) == 2 else ""


def _place(header: Header, counts: list[int], pickups: int, data: Mapping[str, Any]) -> str:
    """Return what messages call the table under a header, empty for none of them."""
    path = header.path
    if path[0] == "variants" and len(path) > 1:
        return _of_variant(path)
    if not header.doubled:
        names = (path[0], *(quote(name).strip('"') for name in path[1:]))
        known = path[0] in _SECTIONS and len(path) <= 2
        return f"[{'.'.join(names)}]" if known else ""
    if path == ("chain",):
        return f"chain item {counts[0]}"
    if path == ("instrument", "pickups"):
        return f"[[instrument.pickups]] {pickups}"
    if path[0] != "chain" or set(path[1:]) != {"inside"}:
        return ""
    try:
        loop = data["chain"][counts[0] - 1]
        for count in counts[1:-1]:
            loop = loop["inside"][count - 1]
        key = "split" if "split" in loop else "loop"
        return f"inside {key} {quote(loop[key])}, item {counts[-1]}"
    except (LookupError, TypeError):
        return ""
