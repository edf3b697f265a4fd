"""Files of one's own parts: checked like a board file, laid over the parts of the program."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from sigsim.board.including import Inclusions, parsed
from sigsim.board.letters import Names, name_problem, refused_letters
from sigsim.board.parts import KINDS, OURS, Library, Part, library
from sigsim.board.source import read_text
from sigsim.board.tables import read_table
from sigsim.errors import BoardError, Problem, SigsimError, nearest, quote, shown_path
from sigsim.items import passive_stage as _passive_stages  # noqa: F401  registers its kinds
from sigsim.items import stage as _stages  # noqa: F401  registers its kind
from sigsim.items.base import STAGE_KINDS
from sigsim.items.cable import CableSpec
from sigsim.items.destination import Destination
from sigsim.items.fields import MEASURED
from sigsim.items.instrument import INSTRUMENT_TYPES, Pickup
from sigsim.items.needs import PICKUPS

if TYPE_CHECKING:
    from sigsim.board.reading import Reading

A_PARTS_FILE: Final = "a file of parts"
_MOST_FILES: Final = 64
_PATH: Final = 'a path relative to this file, such as parts = "my-parts.toml", or a list of them'
_KEYS: Final = ("kind", "summary", "aliases", "use", "sold", "values", "sources")
_PLAIN: Final[Mapping[str, type]] = {
    "pickup": Pickup,
    "cable": CableSpec,
    "destination": Destination,
}
# What a table says of its own spot on a board, and no part can.
_OF_THE_SPOT: Final = ("stage", "before", "after", "fixed", "supply", "place", MEASURED)


def read_parts(reading: Reading, given: object, file: str, inclusions: Inclusions) -> Library:
    """Return the library of a board file that names files of parts.

    Parameters
    ----------
    reading : where problems go
    given : what the file has for `parts`, None for nothing
    file : the path of the board file
    inclusions : the files of the whole board
    """
    if given is None:
        return OURS
    paths = given if isinstance(given, list) else [given]
    if not all(isinstance(path, str) for path in paths) or not paths:
        reading.fault("a path in quotes is wanted", "parts", quote(given), _PATH)
        return Library(is_faulty=True)
    if len(paths) > _MOST_FILES:
        what = f"a board names at most {_MOST_FILES} files of parts"
        reading.fault(what, "parts", f"{len(paths):,}")
        return Library(is_faulty=True)
    own: dict[str, Part] = {}
    files: dict[str, str] = {}
    read: set[str] = set()
    is_faulty = False
    for path in map(str, paths):
        found = inclusions.found(path, file, _PATH)
        text = found if isinstance(found, Problem) else inclusions.text(found, path, A_PARTS_FILE)
        if isinstance(found, Problem) or isinstance(text, Problem):
            problem = text if isinstance(text, Problem) else found
            assert isinstance(problem, Problem), "one of the two is"
            reading.problems.append(replace(problem, where="parts"))
            is_faulty = True
            continue
        if (real := os.path.realpath(found)) in read:
            continue
        read.add(real)
        parts, problems = checked_parts(text, found)
        reading.problems_elsewhere += problems
        is_faulty |= bool(problems)
        reading.warnings_elsewhere += _replacing(parts, found)
        for name in filter(own.__contains__, parts):
            both = f"{shown_path(files[name])} and {shown_path(found)}"
            what = f"this part is in {both}"
            reading.fault(what, "parts", quote(name), "a name of its own for each part")
        own |= parts
        files |= dict.fromkeys(parts, found)
    return Library(own, is_faulty=is_faulty)


def parts_of_file(path: Path) -> tuple[Mapping[str, Part], list[str]]:
    """Return the parts of a file by name, and warnings.

    Raises
    ------
    SigsimError : it cannot be read, or is no TOML
    BoardError : with all that is wrong in it
    """
    file = str(path)
    parts, problems = checked_parts(read_text(path, A_PARTS_FILE), file)
    if problems:
        prefix = f"{shown_path(file)}, "
        here = [replace(p, where=p.where.removeprefix(prefix)) for p in problems]
        raise BoardError(shown_path(file), here)
    return parts, [warning.partition(": ")[2] for warning in _replacing(parts, file)]


def _replacing(parts: Mapping[str, Part], file: str) -> Iterator[str]:
    for name in filter(library().__contains__, parts):
        yield f"{shown_path(file)}: the part {quote(name)} takes the place of ours of that name"


def checked_parts(text: str, file: str) -> tuple[dict[str, Part], list[Problem]]:
    """Return the parts that a file has by name, and what is wrong with it, with file and line.

    Parameters
    ----------
    text : of the file
    file : what messages call it
    """
    try:
        data = parsed(text, file)
    except SigsimError as error:
        return {}, [error.problem]
    reader = _PartsReader()
    reader.problems += refused_letters(data)
    names = Names()
    for name, table in data.items():
        problem = name_problem(name, "") or names.claimed(name, f"[{quote(name)}]")
        reader.problems += [problem] if problem else []
        reader.part(name, table)
    if not reader.problems:
        return reader.parts, []
    lines = _lines(text)
    return reader.parts, [_located(problem, shown_path(file), lines) for problem in reader.problems]


class _PartsReader:
    """Checks the tables of one file of parts."""

    def __init__(self) -> None:
        self.problems: list[Problem] = []
        self.parts: dict[str, Part] = {}

    def fault(self, what: str, where: str, *more: Any) -> None:
        """Note a problem."""
        self.problems.append(Problem(what, where, *more))

    def part(self, name: str, table: object) -> None:
        """Check the table of one part, and keep the part even where something is wrong with it."""
        place = f"[{_shown(name)}]"
        if not isinstance(table, dict):
            self.fault("a table is wanted here", place, quote(table), f"a table {place}")
            return
        for key in table:
            if key not in _KEYS:
                accepted = ", ".join(_KEYS)
                what = f"there is no key {quote(key)} here"
                self.fault(what, place, "", accepted, nearest(key, _KEYS))
        kind, values = table.get("kind"), table.get("values", {})
        if not isinstance(kind, str) or kind not in KINDS:
            what = "this kind of part is not known" if "kind" in table else "kind is missing"
            found = quote(kind) if "kind" in table else ""
            self.fault(what, f"{place}, kind", found, ", ".join(KINDS), nearest(str(kind), KINDS))
            return
        if not isinstance(values, dict):
            self.fault("a table is wanted here", f"{place}, values", quote(values))
            return
        self._values(kind, values, f"{place[:-1]}.values]")
        self.parts[name] = Part(
            name,
            kind,
            self._text(table.get("summary", ""), f"{place}, summary"),
            values,
            self._sources(table.get("sources", {}), values, f"{place[:-1]}.sources]"),
            self._texts(table.get("use", []), f"{place}, use"),
            self._texts(table.get("sold", []), f"{place}, sold"),
            self._texts(table.get("aliases", []), f"{place}, aliases"),
        )

    def _values(self, kind: str, values: Mapping[str, Any], place: str) -> None:
        """Check the figures of a part against what its table of a board file accepts."""
        word = {"stage": "kind", "instrument": "type"}.get(kind)
        known: Mapping[str, type] = STAGE_KINDS if kind == "stage" else INSTRUMENT_TYPES
        item = _PLAIN.get(kind)
        given = dict(values)
        if word is not None:
            default = "active" if kind == "stage" else "passive"
            said = given.pop(word, default)
            if not isinstance(said, str) or said not in known:
                what = f"this {word} of {kind} is not known"
                near = nearest(str(said), known)
                self.fault(what, f"{place}, {word}", quote(said), ", ".join(known), near)
                return
            item = known[said]
        assert item is not None, "each kind of part has its table"
        pickups = given.pop(PICKUPS, None) if kind == "instrument" else None
        for key in _OF_THE_SPOT:
            if key in given:
                del given[key]
                self.fault("a part cannot say this: it belongs to the board", f"{place}, {key}")
        self.problems += read_table(item, given, place, partial=True).problems
        if pickups is not None:
            self._pickups(pickups, f"{place}, {PICKUPS}")

    def _pickups(self, pickups: object, place: str) -> None:
        if not isinstance(pickups, list) or not all(isinstance(one, dict) for one in pickups):
            self.fault("a list of tables is wanted here", place, quote(pickups))
            return
        names = Names()
        for number, one in enumerate(pickups, 1):
            where = f"{place}, item {number}"
            name = one.get("name")
            if not isinstance(name, str):
                self.fault("each pickup of a part has a name", where, "", 'such as name = "neck"')
            elif problem := names.claimed(name, where):
                self.problems.append(problem)
            self.problems += read_table(Pickup, one, where, partial=True).problems

    def _sources(self, sources: object, values: Mapping[str, Any], place: str) -> Mapping[str, str]:
        if not isinstance(sources, dict):
            self.fault("a table is wanted here", place, quote(sources))
            return {}
        for key, source in sources.items():
            if key not in values:
                what = f"there is no figure {quote(key)} of which this could be the source"
                self.fault(what, place, "", ", ".join(values), nearest(key, values))
            self._text(source, f"{place}, {key}")
        return sources

    def _text(self, value: object, place: str) -> str:
        if isinstance(value, str):
            return value
        self.fault("a text in quotes is wanted", place, quote(value))
        return ""

    def _texts(self, value: object, place: str) -> tuple[str, ...]:
        if isinstance(value, list) and all(isinstance(text, str) for text in value):
            return tuple(value)
        self.fault("a list of texts in quotes is wanted", place, quote(value))
        return ()


def _shown(name: str) -> str:
    return quote(name).strip('"')


def _lines(text: str) -> dict[str, int]:
    """Return the line of every table by what messages call its place."""
    from sigsim.board.headers import headers

    return {f"[{'.'.join(map(_shown, h.path))}]": h.line for h in headers(text) if not h.doubled}


def _located(problem: Problem, file: str, lines: Mapping[str, int]) -> Problem:
    """Return a problem that names the file, and the line from which its table goes."""
    table = problem.where.partition("]")[0] + "]"
    line = lines.get(table)
    place = f"from line {line}, {problem.where}" if line else problem.where
    return replace(problem, where=", ".join(filter(None, (file, place))))
