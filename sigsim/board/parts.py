"""The parts library: generic parts as data files, a source for every figure."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from sigsim.errors import UnknownNameError

KINDS = ("instrument", "pickup", "cable", "stage", "destination")
_HOMES = {
    "instrument": "instruments",
    "pickup": "instruments",
    "cable": "cables",
    "stage": "stages",
    "destination": "destinations",
}
_FILES = tuple(dict.fromkeys(_HOMES.values()))


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
    use : what a cable is bought for: "lead", "patch", "coiled lead", "fixed line"
    sold : how a cable is: "ready-made", "by the metre"
    aliases : what players call such a thing
    """

    name: str
    kind: str
    summary: str
    values: Mapping[str, Any]
    sources: Mapping[str, str]
    use: tuple[str, ...] = ()
    sold: tuple[str, ...] = ()
    aliases: tuple[str, ...] = ()


@dataclass(frozen=True)
class Library:
    """The parts that a board can name: those of the program, and those of files of its own.

    Attributes
    ----------
    own : parts of files that the board names; one of a name of ours takes its place
    inside : parts that only things in boards inside this one started from, by what `Item.part` says
    is_faulty : something is wrong with the files, so that what they lack need not be wrong as well
    """

    own: Mapping[str, Part] = field(default_factory=dict)
    inside: Mapping[str, Part] = field(default_factory=dict)
    is_faulty: bool = False

    def parts(self) -> Mapping[str, Part]:
        """Return all parts by name, kind after kind, one's own before those of the program."""
        parts = {**self.own, **{n: p for n, p in library().items() if n not in self.own}}
        return dict(sorted(parts.items(), key=lambda entry: KINDS.index(entry[1].kind)))

    def part(self, name: str, kinds: tuple[str, ...] = KINDS, *, where: str = "") -> Part:
        """Return a part by name, as `part` does."""
        if name in self.own:
            return self.own[name]
        try:
            return part(name, kinds, where=where)
        except UnknownNameError:
            if not self.own:
                raise
        parts = self.parts()
        fitting = tuple(n for n, p in parts.items() if p.kind in kinds)
        raise UnknownNameError("part", name, fitting or tuple(parts), where=where, shown=4)

    def of(self, name: str) -> Part | None:
        """Return the part that a thing of the board started from, None for one without."""
        if not name:
            return None
        return self.inside[name] if name in self.inside else self.part(name)


OURS = Library()


def library() -> Mapping[str, Part]:
    """Return all parts of the program by name, kind after kind."""
    parts = {name: part for file in _FILES for name, part in _load(file).items()}
    return dict(sorted(parts.items(), key=lambda entry: KINDS.index(entry[1].kind)))


@cache
def _load(file: str) -> Mapping[str, Part]:
    """Return the parts of one data file."""
    path = Path(__file__).parent / "library" / f"{file}.toml"
    tables = tomllib.loads(path.read_text(encoding="utf-8"))
    return {
        name: Part(
            name,
            t["kind"],
            t["summary"],
            t["values"],
            t["sources"],
            tuple(t.get("use", ())),
            tuple(t.get("sold", ())),
            tuple(t.get("aliases", ())),
        )
        for name, t in tables.items()
    }


def part(name: str, kinds: tuple[str, ...] = KINDS, *, where: str = "") -> Part:
    """Return a part by name.

    Parameters
    ----------
    name : of the part
    kinds : where to look first, so that files that are not needed are not read
    where : what a message calls the place that names the part

    Raises
    ------
    UnknownNameError : there is no such part
    """
    for kind in kinds:
        if name in (parts := _load(_HOMES[kind])):
            return parts[name]
    parts = library()
    if name not in parts:
        fitting = tuple(n for n, p in parts.items() if p.kind in kinds)
        raise UnknownNameError("part", name, fitting or tuple(parts), where=where, shown=4)
    return parts[name]
