"""Reading the boards inside loops: their chain, the leads to them and back, what it is called."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

from sigsim.board.claims import Claims
from sigsim.board.included import Included, Naming
from sigsim.board.letters import name_problem
from sigsim.errors import Problem, quote, shown_path
from sigsim.items.cable import Cable
from sigsim.items.split import Split
from sigsim.items.tap import Tap

if TYPE_CHECKING:
    from sigsim.board.chain_reader import ChainReader
    from sigsim.board.laying import Laying
    from sigsim.board.parts import Part
    from sigsim.items.base import Item
    from sigsim.items.cable import CableSpec

_FAR: Final = "it leads to another board, so that no layout says how far"
_PATH: Final = 'a path in quotes, such as board = "deck.toml"'


@dataclass(frozen=True)
class BoardInside:
    """What counts of a board inside another one.

    Attributes
    ----------
    listed, wiring, cables : as of a board, called as the board around it calls them
    scenes : the names of what is on, by scene
    chain : what its chain was read with
    parts : that things in it started from and the board around it does not know
    laying : where its boxes stand and what lengths follow, None without a layout
    """

    listed: tuple[Item, ...]
    wiring: Cable | None
    cables: Mapping[str, CableSpec]
    scenes: Mapping[str, tuple[str, ...]]
    chain: ChainReader
    parts: Mapping[str, Part]
    laying: Laying | None = None


_Read = Callable[[Included, Naming, int], BoardInside]


@dataclass
class BoardsReader:
    """Reads the boards inside the loops of one file.

    Attributes
    ----------
    claims : the names of all boards together
    read : reads a board that a loop holds, so deep inside others
    scenes : those of the boards so far, by the loop as this file calls it
    cables : of the boards so far
    parts : that things in the boards so far started from and this board does not know
    """

    claims: Claims
    read: _Read
    scenes: dict[str, Mapping[str, tuple[str, ...]]] = field(default_factory=dict)
    cables: dict[str, CableSpec] = field(default_factory=dict)
    parts: dict[str, Part] = field(default_factory=dict)

    def taken(self, chain: ChainReader, table: dict[str, Any], place: str) -> dict[str, Any]:
        """Take what a loop says of a board out of its table and return the fields of the loop.

        Parameters
        ----------
        chain : that the loop is read for
        table : of the loop
        place : what messages call it
        """
        reading = chain.reading
        is_given = "prefix" in table
        held, prefix = table.pop("board", None), table.pop("prefix", "")
        given = {key: table.pop(key) for key in ("lead_out", "lead_back") if key in table}
        leads: dict[str, Cable | None] = {}
        leads |= {key: self._lead(chain, value, f"{place}, {key}") for key, value in given.items()}
        if held is None:
            for key in (*(["prefix"] if prefix != "" else []), *given):
                what = "this has no effect: there is no board inside this loop"
                where = f"{place}, {key}"
                reading.fault(what, where, "", f"{_PATH} beside it, or the line left out")
            return {"inside": chain.inside("loop", table, place)}
        fields = {"inside": (), "board": held.path if isinstance(held, Included) else ""}
        if table.pop("inside", None) is not None:
            what = "a loop holds a board, or what stands inside it here"
            reading.fault(what, place, "board and inside", "one of the two")
        elif not isinstance(held, Included):
            _refuse(chain, held, f"{place}, board")
        elif self._is_prefix(chain, prefix, place, is_given=is_given):
            return fields | self._inside(chain, held, table["loop"], place, leads)
        chain.incomplete = True
        return fields

    def _lead(self, chain: ChainReader, value: object, place: str) -> Cable | None:
        table = chain.reading.table(value, place)
        return None if table is None else chain.reading.cable(table, place, chain.cables, far=_FAR)

    def _is_prefix(self, chain: ChainReader, prefix: object, place: str, *, is_given: bool) -> bool:
        """Whether a prefix can stand before names; note it if not."""
        where = f"{place}, prefix"
        if not isinstance(prefix, str):
            chain.reading.fault("a name in quotes is wanted", where, quote(prefix))
            return False
        problem = name_problem(prefix, where) if prefix or is_given else None
        chain.reading.problems += [problem] if problem else []
        return problem is None

    def _inside(
        self,
        chain: ChainReader,
        held: Included,
        loop: object,
        place: str,
        leads: Mapping[str, Cable | None],
    ) -> dict[str, Any]:
        """Read the board in a loop and return the fields of the loop that come from it."""
        own = chain.reading.naming
        name = loop if isinstance(loop, str) else ""
        naming = own.inside(name, held.prefix)
        if not self._is_first(chain, held, naming, place):
            chain.incomplete = True
            return {}
        for cable in chain.cables:
            if own.cable(cable).startswith(naming.cables):
                chain.reading.fault(
                    f"the names of the cables of {shown_path(held.file)} begin so",
                    "[cables]",
                    quote(cable),
                    "a name of its own",
                )
        title = held.data.get("title")
        file, self.claims.file = self.claims.file, held.file
        found = self.read(held, naming, chain.depth + 1)
        self.claims.file = file
        self._note(chain, found, held, name)
        return {
            "inside": _with_leads(found.listed, leads.get("lead_out"), leads.get("lead_back")),
            "board_title": title if isinstance(title, str) else "",
            "wiring": found.wiring,
            "lays": found.laying,
        }

    def _is_first(self, chain: ChainReader, held: Included, naming: Naming, place: str) -> bool:
        """Whether no loop has the same board under the same names; note it if one does."""
        key = os.path.realpath(held.file), naming.prefix
        here = f"{shown_path(self.claims.file)}, {place}"
        first = self.claims.boards.setdefault(key, here)
        if first == here:
            return True
        what = "this board is inside another loop too, so that all its names would be used twice"
        accepted = f'prefix = "…" here, or in {first}'
        chain.reading.fault(what, f"{place}, board", quote(held.path), accepted)
        return False

    def _note(self, chain: ChainReader, found: BoardInside, held: Included, loop: str) -> None:
        """Keep what the file of the loop can name of the board inside."""
        inner, prefix = found.chain, held.prefix
        chain.boxes.note_inside(prefix, inner.boxes, shown_path(held.file))
        chain.incomplete |= inner.incomplete
        chain.names |= {prefix + name: None for name in inner.names}
        chain.branches |= {prefix + name: key for name, key in inner.branches.items()}
        self.cables |= found.cables
        self.parts |= found.parts
        self.scenes[loop] = found.scenes
        assert inner.boards is not None, "it was read with one"
        self.scenes |= {prefix + name: held for name, held in inner.boards.scenes.items()}


def _refuse(chain: ChainReader, held: object, place: str) -> None:
    """Note what is wrong with what should be a board."""
    if not isinstance(held, Problem):
        chain.reading.fault("a path in quotes is wanted", place, quote(held), _PATH)
    elif held.where:
        chain.reading.problems_elsewhere.append(held)
    else:
        chain.reading.fault(held.what, place, held.found, held.accepted, held.nearest)


def _with_leads(items: tuple[Item, ...], out: Cable | None, back: Cable | None) -> tuple[Item, ...]:
    """Return a chain with other cables at its ends, put there if it has none of its own."""
    on_way = [n for n, item in enumerate(items) if not isinstance(item, Tap | Split)]
    first = on_way[0] if on_way and isinstance(items[on_way[0]], Cable) else None
    last = on_way[-1] if on_way and isinstance(items[on_way[-1]], Cable) else None
    if out is not None and first == last:
        last = None  # the only thing in it is one cable: it is the way there
    if back is not None:
        items = (*items, back) if last is None else _replaced(items, last, back)
    if out is not None:
        items = (out, *items) if first is None else _replaced(items, first, out)
    return items


def _replaced(items: tuple[Item, ...], index: int, cable: Cable) -> tuple[Item, ...]:
    return (*items[:index], cable, *items[index + 1 :])
