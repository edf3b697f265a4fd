"""Reading a board file: TOML in, a `Board` or every problem at once out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sigsim.board.awaited import cable_with_layout, with_layout
from sigsim.board.boards_reader import BoardInside, BoardsReader
from sigsim.board.chain_reader import ChainReader
from sigsim.board.changed import Attributed, Tried
from sigsim.board.changes import NO_CHANGES, Changes
from sigsim.board.claims import Claims
from sigsim.board.homes import belongs
from sigsim.board.included import PLAIN, Included, Naming
from sigsim.board.including import Inclusions, parsed
from sigsim.board.instrument_reader import read_instrument
from sigsim.board.lacking import complete
from sigsim.board.lengths import bare_lengths
from sigsim.board.letters import refused_letters
from sigsim.board.model import Board
from sigsim.board.parts import OURS, Library
from sigsim.board.plain_reader import (
    read_cables,
    read_destination,
    read_title,
    read_wiring,
)
from sigsim.board.reading import Reading
from sigsim.board.scenes_reader import read_scenes
from sigsim.board.source import read_text
from sigsim.board.standing import standing_problems
from sigsim.board.supplies_reader import read_supplies
from sigsim.board.words import means_layout, meant_section
from sigsim.errors import BoardError, Problem, nearest, quote, shown_path
from sigsim.items.destination import Destination

if TYPE_CHECKING:
    from sigsim.board.laying import Laying
    from sigsim.board.model import Instrument
    from sigsim.board.versions import Versions
    from sigsim.items.base import Item
    from sigsim.items.cable import CableSpec
    from sigsim.items.supply import Supply

SECTIONS = (
    "title", "parts", "instrument", "destination", "cables", "wiring", "layout", "boxes", "chain",
    "scenes", "supplies", "variants",
)  # fmt: skip


def read_board(path: str | Path, changes: Changes = NO_CHANGES, *, lacking: bool = False) -> Board:
    """Read a board file.

    Parameters
    ----------
    path : of a TOML file in UTF-8
    changes : the variants of the file and the values that it is read with
    lacking : whether a cable may be without a length that the layout was to give

    Returns
    -------
    the checked board

    Raises
    ------
    BoardError : with every problem of the file
    SigsimError : the file cannot be read at all, or not with these changes
    """
    return parse_board(read_text(Path(path)), str(path), changes, lacking=lacking)


def parse_board(
    text: str, file: str = "board", changes: Changes = NO_CHANGES, *, lacking: bool = False
) -> Board:
    """Read a board from its text; `file` is what messages call it. Raises as `read_board`."""
    inclusions = Inclusions(file)
    data = inclusions.expanded(parsed(text, file))
    if changes or "variants" in data:
        versions = _versions(text, file, data, inclusions)
        if not lacking:
            versions.refuse_lacking()
        board = versions.board(changes)
    else:
        board = _Assembly(file, text, inclusions).board(data)
    return board if lacking else complete(board)


def read_versions(path: str | Path, values: tuple[str, ...] = ()) -> tuple[Board, ...]:
    """Read a board file as it is, then with each of its variants.

    Parameters
    ----------
    path, values : as for `read_board`; the values are set in all of them

    Raises
    ------
    BoardError, SigsimError : as `read_board`
    """
    text, file = read_text(Path(path)), str(path)
    inclusions = Inclusions(file)
    versions = _versions(text, file, inclusions.expanded(parsed(text, file)), inclusions)
    versions.refuse_lacking()
    each = ((), *((name,) for name in versions.variants))
    return tuple(complete(versions.board(Changes(names, values))) for names in each)


def _versions(text: str, file: str, data: dict[str, Any], inclusions: Inclusions) -> Versions:
    from sigsim.board.versions import Versions

    def tried(given: Mapping[str, Any]) -> Tried:
        return _Assembly(file, text, inclusions).tried(given)

    def refused(problems: list[Problem]) -> BoardError:
        from sigsim.board.headers import located

        return BoardError(shown_path(file), located(problems, text, data))

    return Versions(file, data, tried, refused, inclusions.expanded)


@dataclass(frozen=True)
class _Tables:
    """What was made of the tables of one file, None for what is not there or wrong."""

    title: str
    instrument: Instrument | None
    destination: Destination | None
    inside: BoardInside
    supplies: Mapping[str, Supply]


class _Assembly:
    """Puts a board together, gathering problems instead of stopping at the first.

    Parameters
    ----------
    file, text : of the board
    inclusions : the files that it names
    naming : what its things are called in the board that holds it
    claims : the names of all boards together, None for the outermost
    """

    def __init__(
        self,
        file: str,
        text: str,
        inclusions: Inclusions,
        naming: Naming = PLAIN,
        claims: Claims | None = None,
    ) -> None:
        self.reading = Reading(naming=naming)
        self.file = file
        self.text = text
        self.inclusions = inclusions
        self.claims = claims or Claims(file)
        self.outermost = claims is None

    def board(self, data: Mapping[str, Any]) -> Board:
        """Return the board, from the parsed file with the boards inside it."""
        tried = self.tried(data)
        if tried.board is None:
            raise BoardError(shown_path(self.file), self.problems(data))
        return tried.board

    def tried(self, data: Mapping[str, Any]) -> Tried:
        """Return what comes of a file's tables, without an error."""
        read, board = self._tables(data, 0), None
        problems = (*self._attributed(), *dict.fromkeys(self.reading.problems_elsewhere))
        if not problems and read.instrument is not None and read.destination is not None:
            own = self.reading.library.own
            board = Board(
                title=read.title,
                file=self.file,
                instrument=read.instrument,
                destination=read.destination,
                listed=read.inside.listed,
                cables=read.inside.cables,
                scenes=read.inside.scenes,
                warnings=tuple(dict.fromkeys((*self.warnings(), *self.reading.warnings_elsewhere))),
                wiring=read.inside.wiring,
                files=(self.file, *self.inclusions.files),
                supplies=read.supplies,
                boxes=read.inside.chain.boxes.drawing(),
                laying=read.inside.laying,
                fed_at={one.name: one.place for one in read.inside.chain.boxes.fed()},
                library=Library(own, read.inside.parts) if own or read.inside.parts else OURS,
            )
        return Tried(board, problems, self.reading.changed.blamed)

    def _attributed(self) -> list[Problem]:
        return [*map(self.reading.changed.attributed, self.reading.problems)]

    def inside(self, data: Mapping[str, Any], depth: int) -> BoardInside:
        """Return what counts of a board that a loop holds, from its parsed file.

        Parameters
        ----------
        data : of its file
        depth : how many loops and splits are around it
        """
        return self._tables(data, depth).inside

    def _tables(self, data: Mapping[str, Any], depth: int) -> _Tables:
        """Check all tables and return what was made of them."""
        self.reading.problems += refused_letters(data)
        for key in data:
            if key not in SECTIONS:
                self.reading.fault(
                    f"there is no section {quote(key)}{belongs(key)}",
                    accepted=", ".join(SECTIONS),
                    nearest=meant_section(key) or nearest(key, SECTIONS),
                )
        self._read_parts(data.get("parts"))
        self.reading.has_layout = any(means_layout(key, SECTIONS) for key in data)
        title = read_title(self.reading, data.get("title", ""))
        instrument = read_instrument(self.reading, self._section(data, "instrument"))
        destination = read_destination(self.reading, self._section(data, "destination"))
        cables = read_cables(self.reading, data.get("cables", {}))
        wiring = read_wiring(self.reading, data.get("wiring"), cables)
        boards = BoardsReader(self.claims, self._inside)
        reader = ChainReader(self.reading, cables, boards, depth)
        listed = reader.chain(data.get("chain"))
        scenes = read_scenes(self.reading, data.get("scenes", {}), reader)
        laying = None
        if "layout" in data or "boxes" in data or reader.boxes.say_something:
            laying = self._laying(data, reader, listed, cables)
        if laying is not None:
            listed = with_layout(listed, laying)
            wiring = wiring and cable_with_layout(wiring, laying)
        naming = self.reading.naming
        said = (reader.named, reader.names, reader.branches, cables)
        self.reading.problems += standing_problems(
            listed, *said, prefix=naming.prefix, incomplete=reader.incomplete
        )
        own = {naming.cable(name): spec for name, spec in cables.items() if spec is not None}
        parts = {
            called: part
            for name, part in self.reading.library.own.items()
            if (called := naming.part(name, self.reading.library)) != name
        }
        inside = BoardInside(
            listed, wiring, own | boards.cables, scenes, reader, parts | boards.parts, laying
        )
        supplies = read_supplies(self.reading, data, reader.boxes) if self.outermost else {}
        return _Tables(title, instrument, destination, inside, supplies)

    def _laying(
        self,
        data: Mapping[str, Any],
        chain: ChainReader,
        listed: tuple[Item, ...],
        cables: Mapping[str, CableSpec | None],
    ) -> Laying | None:
        """Return the layout of the file, None without one."""
        from sigsim.board.layout_reader import LayoutReader

        reader = LayoutReader(self.reading, self.claims, chain, listed, self.file)
        return reader.laying(data, cables)

    def _read_parts(self, given: object) -> None:
        """Read the files of parts that the file names."""
        if given is None:
            return
        from sigsim.board.own_parts import read_parts

        library = read_parts(self.reading, given, self.file, self.inclusions)
        self.reading.library = library
        if self.outermost:
            self.reading.naming = replace(self.reading.naming, main=library.own)

    def _inside(self, held: Included, naming: Naming, depth: int) -> BoardInside:
        """Read the board in a loop; what is wrong with it is noted with its file."""
        other = _Assembly(held.file, held.text, self.inclusions, naming, self.claims)
        found = other.inside(held.data, depth)
        file = shown_path(held.file)
        here = (
            problem
            if isinstance(problem, Attributed)
            else replace(problem, where=", ".join(filter(None, (file, problem.where))))
            for problem in other.located(held.data)
        )
        self.reading.problems_elsewhere += [*here, *other.reading.problems_elsewhere]
        self.reading.warnings_elsewhere += [f"{file}: {said}" for said in other.warnings()]
        self.reading.warnings_elsewhere += other.reading.warnings_elsewhere
        return found

    def problems(self, data: Mapping[str, Any]) -> list[Problem]:
        """Return all that is wrong, that of other files last and each once."""
        here = self.located(data)
        return [*here, *dict.fromkeys(self.reading.problems_elsewhere)]

    def located(self, data: Mapping[str, Any]) -> list[Problem]:
        """Return what is wrong in this file, with the lines of the tables."""
        if not self.reading.problems:
            return []
        from sigsim.board.headers import located

        # What a change did wrong stands in the outermost file.
        found = self._attributed()
        here = [problem for problem in found if not isinstance(problem, Attributed)]
        changed = [problem for problem in found if isinstance(problem, Attributed)]
        return [*located(here, self.text, data), *changed]

    def warnings(self) -> Iterator[str]:
        """Yield what is accepted in this file but probably not meant."""
        yield from self.reading.warnings
        yield from bare_lengths(self.reading.lengths)

    def _section(self, data: Mapping[str, Any], name: str) -> Mapping[str, Any] | None:
        if name in data:
            return self.reading.table(data[name], f"[{name}]")
        if self.outermost:
            self.reading.fault(f"there is no [{name}]", accepted=f"a table [{name}]")
        return None
