"""The parts library: generic parts as data files, a source for every figure."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from sigsim.errors import UnknownNameError

KINDS = ("instrument", "pickup", "cable", "stage", "destination")


@dataclass(frozen=True)
class Part:
    """One generic part.

    Attributes
    ----------
    name : how a board file names it
    kind : which table it may stand in
    summary : one plain line
    values : the keys and values it gives
    sources : where each figure comes from, by key
    """

    name: str
    kind: str
    summary: str
    values: Mapping[str, Any]
    sources: Mapping[str, str]


@cache
def library() -> Mapping[str, Part]:
    """Return all parts by name, in the order of their files."""
    parts: dict[str, Part] = {}
    folder = files("sigsim.board") / "library"
    for entry in sorted(folder.iterdir(), key=lambda e: _file_order(e.name)):
        if entry.name.endswith(".toml"):
            for name, table in tomllib.loads(entry.read_text(encoding="utf-8")).items():
                parts[name] = Part(
                    name, table["kind"], table["summary"], table["values"], table["sources"]
                )
    return parts


def _file_order(name: str) -> tuple[int, str]:
    stem = name.removesuffix("s.toml")
    return (KINDS.index(stem) if stem in KINDS else len(KINDS), name)


def part(name: str, *, where: str = "") -> Part:
    """Return a part by name.

    Raises
    ------
    UnknownNameError : there is no such part
    """
    parts = library()
    if name not in parts:
        raise UnknownNameError("part", name, tuple(parts), where=where)
    return parts[name]
