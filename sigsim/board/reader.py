"""Reading a board file: TOML in, a `Board` or every problem at once out."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from sigsim.board.chain_reader import ChainReader
from sigsim.board.homes import belongs
from sigsim.board.lengths import bare_lengths
from sigsim.board.letters import Names, name_problem, one_line, refused_letters
from sigsim.board.model import Board
from sigsim.board.pickups_reader import read_pickups
from sigsim.board.reading import Reading, merged_part
from sigsim.board.source import check_sizes, read_text
from sigsim.board.standing import standing_problems
from sigsim.board.state import why_unswitched
from sigsim.board.tables import LONGEST_NAME
from sigsim.board.words import meant_section
from sigsim.errors import BoardError, SigsimError, nearest, quote, shown_path
from sigsim.items.cable import Cable, CableSpec
from sigsim.items.destination import Destination
from sigsim.items.instrument import INSTRUMENT_TYPES, ActiveInstrument, PassiveInstrument
from sigsim.items.needs import PICKUPS

SECTIONS = ("title", "instrument", "destination", "cables", "wiring", "chain", "scenes")


def read_board(path: str | Path) -> Board:
    """Read a board file.

    Parameters
    ----------
    path : of a TOML file in UTF-8

    Returns
    -------
    the checked board

    Raises
    ------
    BoardError : with every problem of the file
    SigsimError : the file cannot be read at all
    """
    return parse_board(read_text(Path(path)), str(path))


def parse_board(text: str, file: str = "board") -> Board:
    """Read a board from its text; `file` is what messages call it. Raises as `read_board`."""
    where = shown_path(file)
    check_sizes(text, where)
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        from sigsim.board.syntax import not_toml

        raise not_toml(text, error, where) from None
    except RecursionError:
        raise SigsimError("this is nested too deeply", where=where) from None
    except ValueError as error:
        raise SigsimError(f"a number cannot be read: {error}", where=where) from None
    return _Assembly(file, text).board(data)


class _Assembly:
    """Puts a board together, gathering problems instead of stopping at the first."""

    def __init__(self, file: str, text: str) -> None:
        self.reading = Reading()
        self.file = file
        self.text = text

    def board(self, data: Mapping[str, Any]) -> Board:
        self.reading.problems += refused_letters(data)
        for key in data:
            if key not in SECTIONS:
                self.reading.fault(
                    f"there is no section {quote(key)}{belongs(key)}",
                    accepted=", ".join(SECTIONS),
                    nearest=meant_section(key) or nearest(key, SECTIONS),
                )
        title = self._title(data.get("title", ""))
        instrument = self._instrument(self._section(data, "instrument"))
        destination = self._destination(self._section(data, "destination"))
        cables = self._cables(data.get("cables", {}))
        wiring = self._wiring(data.get("wiring"), cables)
        reader = ChainReader(self.reading, cables)
        listed = reader.chain(data.get("chain"))
        scenes = self._scenes(data.get("scenes", {}), reader)
        self.reading.problems += standing_problems(
            listed,
            reader.named,
            reader.names,
            reader.branches,
            cables,
            incomplete=reader.incomplete,
        )
        if self.reading.problems or instrument is None or destination is None:
            from sigsim.board.headers import located

            problems = located(self.reading.problems, self.text, data)
            raise BoardError(shown_path(self.file), problems)
        return Board(
            title=title,
            file=self.file,
            instrument=instrument,
            destination=destination,
            listed=listed,
            cables={name: spec for name, spec in cables.items() if spec is not None},
            scenes=scenes,
            warnings=tuple(dict.fromkeys(self._warnings())),
            wiring=wiring,
        )

    def _warnings(self) -> Iterator[str]:
        yield from self.reading.warnings
        yield from bare_lengths(self.reading.lengths)

    def _title(self, title: object) -> str:
        if not isinstance(title, str):
            self.reading.fault("a title in quotes is wanted", "title", found=quote(title))
            return ""
        if len(title) > LONGEST_NAME:
            self.reading.fault(f"a title has at most {LONGEST_NAME} characters", "title")
        return one_line(title)

    def _names(self, table: Mapping[str, Any], place: str) -> None:
        """Check the keys of a table that are names of the player's own."""
        names = Names()
        for name in table:
            problem = name_problem(name, place) or names.claimed(name, f"{place}, {quote(name)}")
            self.reading.problems += [problem] if problem else []

    def _section(self, data: Mapping[str, Any], name: str) -> Mapping[str, Any] | None:
        if name not in data:
            self.reading.fault(f"there is no [{name}]", accepted=f"a table [{name}]")
            return None
        return self.reading.table(data[name], f"[{name}]")

    def _instrument(self, table: Mapping[str, Any] | None) -> Any:
        if table is None:
            return None
        place = "[instrument]"
        table, part = merged_part(self.reading, table, place, ("instrument",))
        kind = table.pop("type", "passive")
        if not isinstance(kind, str) or kind not in INSTRUMENT_TYPES:
            accepted = tuple(INSTRUMENT_TYPES)
            self.reading.fault(
                "this type of instrument is not known",
                f"{place}, type",
                found=quote(kind),
                accepted=", ".join(accepted),
                nearest=nearest(str(kind), accepted),
            )
            return None
        if not self.reading.suits(part, place, "type", kind):
            return None
        if kind == "active":
            return self.reading.make(ActiveInstrument, table, place, part, also=("type", "part"))
        pickups = read_pickups(self.reading, table, part)
        return self.reading.make(
            PassiveInstrument,
            table,
            place,
            part,
            {PICKUPS: tuple(filter(None, pickups))},
            also=("type", "part", PICKUPS),
            beside={PICKUPS: pickups},
        )

    def _destination(self, table: Mapping[str, Any] | None) -> Destination | None:
        if table is None:
            return None
        values, part = merged_part(self.reading, table, "[destination]", ("destination",))
        made: Destination | None = self._with_part(Destination, values, "[destination]", part)
        return made

    def _cables(self, tables: object) -> dict[str, CableSpec | None]:
        listed = self.reading.table(tables, "[cables]") or {}
        self._names(listed, "[cables]")
        cables: dict[str, CableSpec | None] = {}
        for name, entry in listed.items():
            place = f"[cables.{quote(name).strip(chr(34))}]"
            raw = self.reading.table(entry, place)
            cables[name] = None
            if raw is not None:
                values, part = merged_part(self.reading, raw, place, ("cable",))
                cables[name] = self._with_part(CableSpec, values, place, part)
        return cables

    def _with_part(self, item: type, values: Mapping[str, Any], place: str, part: str) -> Any:
        return self.reading.make(item, values, place, part, also=("part",))

    def _wiring(self, table: object, cables: Mapping[str, CableSpec | None]) -> Cable | None:
        raw = None if table is None else self.reading.table(table, "[wiring]")
        if raw is None:
            return None
        return self.reading.cable(raw, "[wiring]", cables)

    def _scenes(self, tables: object, chain: ChainReader) -> dict[str, tuple[str, ...]]:
        listed = self.reading.table(tables, "[scenes]") or {}
        self._names(listed, "[scenes]")
        names = tuple(chain.names)
        scenes = {}
        for scene, on in listed.items():
            place = f"[scenes], {quote(scene)}"
            if not isinstance(on, list) or not all(isinstance(name, str) for name in on):
                self.reading.fault(
                    "a scene is a list of names", place, quote(on), 'such as ["fuzz", "echo"]'
                )
                continue
            for name in on:
                why = None if name in names else why_unswitched(name, chain.branches, chain.cables)
                if why is not None:
                    self.reading.fault(why, place, quote(name), "names of stages and loops")
                elif name not in names and not chain.incomplete:
                    self.reading.fault(
                        "the chain has no stage or loop of this name",
                        place,
                        quote(name),
                        ", ".join(quote(n) for n in names[:12]),
                        nearest(name, names),
                    )
            scenes[scene] = tuple(on)
        return scenes
