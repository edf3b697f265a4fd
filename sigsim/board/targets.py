"""What a name in a variant or in `--set` means: a table of a board file or of boards inside it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from sigsim.board.changed import NAMING, Table
from sigsim.board.included import Included

# Sections that a variant may change; in those that are true, each table has a name of its own.
SECTIONS: Final[Mapping[str, bool]] = {
    "instrument": False,
    "destination": False,
    "wiring": False,
    "layout": False,
    "boxes": True,
    "cables": True,
    "supplies": True,
}
OUT: Final = "out"
CABLES: Final = "cables."
# Tables that an item may have, with a name that belongs to that of the item.
INNER: Final = ("destination", "lead_out", "lead_back")
_DEEPEST: Final = 40


@dataclass(frozen=True)
class Level:
    """One board file with its own names: the main one, or one inside a loop.

    Attributes
    ----------
    data : of it
    file : that it was read from, empty for the main one
    prefix : what stands before each of its names outside
    labels : what may stand before the names of its cables outside
    above : the levels around it, the main one first
    """

    data: dict[str, Any]
    file: str = ""
    prefix: str = ""
    labels: tuple[str, ...] = ("",)
    above: tuple[Level, ...] = ()

    @property
    def way(self) -> tuple[Level, ...]:
        """All levels whose names may mean something in this one, the main one first."""
        return (*self.above, self)


@dataclass(frozen=True)
class Target:
    """A table that a name means.

    Attributes
    ----------
    name : outside, with all prefixes
    kind : "stage", "loop", "split", "tap", "pickup", or the section it is in
    table : of it
    level : that it stands in
    holder : the list that it stands in, empty for a section
    around : the loops and splits around it, the outermost first
    """

    name: str
    kind: str
    table: Table
    level: Level
    holder: list[Any] = field(default_factory=list)
    around: tuple[Target, ...] = ()

    @property
    def is_item(self) -> bool:
        """Whether it stands in the chain."""
        return self.kind in NAMING


def items(data: dict[str, Any]) -> Iterator[Target]:
    """Yield all that has a name in a chain, in loops, splits and boards inside too."""
    yield from _items(data.get("chain"), Level(data), ())


def _items(listed: object, level: Level, around: tuple[Target, ...]) -> Iterator[Target]:
    if not isinstance(listed, list) or len(around) > _DEEPEST:
        return
    for entry in listed:
        key = next((k for k in NAMING if isinstance(entry, Table) and k in entry), None)
        if key is None or not isinstance(entry[key], str):
            continue
        found = Target(level.prefix + entry[key], key, entry, level, listed, around)
        yield found
        inside = (*around, found)
        yield from _items(entry.get("inside"), level, inside)
        if isinstance(board := entry.get("board"), Included):
            yield from _items(board.data.get("chain"), _inner(found, board), inside)


def _inner(loop: Target, board: Included) -> Level:
    level, own = loop.level, loop.table.get("prefix", "")
    names = dict.fromkeys((loop.name, loop.table["loop"]))
    return Level(
        board.data,
        board.file,
        level.prefix + (own if isinstance(own, str) else ""),
        tuple(f"{label}{name}: " for label in level.labels for name in names),
        level.way,
    )


def labels(loop: Target) -> tuple[str, ...]:
    """Return what may stand before the names of the cables of the board in a loop."""
    board = loop.table.get("board")
    return _inner(loop, board).labels if isinstance(board, Included) else ()


def levels(data: dict[str, Any]) -> list[Level]:
    """Return the main level and those of all boards inside."""
    found = [Level(data)]
    for item in items(data):
        if isinstance(board := item.table.get("board"), Included):
            found.append(_inner(item, board))
    return found


class Targets:
    """All that can be named in a board file.

    Parameters
    ----------
    data : of the file, tables to be changed
    """

    def __init__(self, data: dict[str, Any]) -> None:
        self.data = data
        self.main = Level(data)
        self.items: dict[str, Target] = {}
        for item in items(data):
            self.items.setdefault(item.name, item)

    def find(self, name: str) -> Target | None:
        """Return what a name means, None for nothing."""
        return self.items.get(name) or self._section(name)

    def inner(self, name: str) -> Target | None:
        """Return a table inside another that a name with a dot means, None for nothing."""
        head, dot, last = name.rpartition(".")
        item = self.items.get(head) if dot and last in INNER else None
        if item is not None and isinstance(table := item.table.get(last), Table):
            return Target(name, last, table, item.level)
        return None

    def names(self) -> tuple[str, ...]:
        """Return every name that means something."""
        plain = [w for w, named in SECTIONS.items() if not named and self._section(w) is not None]
        cables = [f"cables.{label}{name}" for label, name in self._cables()]
        supplies = self.data.get("supplies")
        named = [f"supplies.{name}" for name in supplies] if isinstance(supplies, dict) else []
        boxes = [f"boxes.{name}" for name in self._boxes()]
        return (*self.items, *plain, *boxes, *cables, *named)

    def _section(self, name: str) -> Target | None:
        word, dot, rest = name.partition(".")
        if word not in SECTIONS or bool(dot) != SECTIONS[word]:
            return None
        if not dot:
            table = self.data.get(word)
            return Target(name, word, table, self.main) if isinstance(table, Table) else None
        places = [(self.main, rest)]
        if word == "cables":
            places += [
                (level, rest[len(label) :])
                for level in levels(self.data)[1:]
                for label in level.labels
                if rest.startswith(label)
            ]
        if word == "boxes":
            places += [
                (level, rest[len(level.prefix) :])
                for level in levels(self.data)[1:]
                if rest.startswith(level.prefix)
            ]
        for level, own in places:
            tables = level.data.get(word)
            if isinstance(tables, dict) and isinstance(table := tables.get(own), Table):
                return Target(name, word, table, level)
        return None

    def _boxes(self) -> Iterator[str]:
        for level in levels(self.data):
            listed = level.data.get("boxes")
            yield from (
                level.prefix + name for name in (listed if isinstance(listed, dict) else ())
            )

    def _cables(self) -> Iterator[tuple[str, str]]:
        for level in levels(self.data):
            listed = level.data.get("cables")
            for name in listed if isinstance(listed, dict) else ():
                yield level.labels[0], name


def reserved(name: str) -> bool:
    """Whether a name of an item would be taken for something else in a variant."""
    word, dot, _ = name.partition(".")
    return name == OUT or name in SECTIONS or bool(dot and SECTIONS.get(word))
