"""Reading `[layout]` and `[boxes]`: where things stand, checked against the chain."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

from sigsim.board.boxes import Standing
from sigsim.board.laying import Laying
from sigsim.board.layout_checks import (
    box_problems,
    edge_problems,
    jack_problems,
    loop_problems,
    on_side,
    row_problems,
    spot_problems,
)
from sigsim.board.letters import name_problem
from sigsim.errors import Problem, quote
from sigsim.items.fields import PLACING
from sigsim.items.layout import BoxTable, LayoutTable
from sigsim.layout.model import Box, Layout

if TYPE_CHECKING:
    from sigsim.board.chain_reader import ChainReader
    from sigsim.board.claims import Claims
    from sigsim.board.reading import Reading
    from sigsim.items.base import Item
    from sigsim.items.cable import CableSpec
    from sigsim.items.layout import Outlined

LAYOUT: Final = "[layout]"
MOST_BOXES: Final = 500
_MOST_NAMED: Final = 5


def box_place(name: str) -> str:
    """Return what messages call the table of a box."""
    return f"[boxes.{quote(name).strip(chr(34))}]"


@dataclass
class LayoutReader:
    """Reads where the boxes of one file stand.

    Attributes
    ----------
    reading : where problems go
    claims : the names of all boards together
    chain : what the chain was read with
    listed : the items of the chain
    file : what messages call it
    incomplete : whether a name may be missing because something could not be read
    """

    reading: Reading
    claims: Claims
    chain: ChainReader
    listed: Sequence[Item]
    file: str
    incomplete: bool = False

    def laying(
        self, data: Mapping[str, Any], cables: Mapping[str, CableSpec | None]
    ) -> Laying | None:
        """Return the layout of the file with what its cables are sold in, None for none.

        Parameters
        ----------
        data : of the file
        cables : its kinds of cable
        """
        own = self._boxes(data.get("boxes", {}))
        self.chain.boxes.tables |= dict.fromkeys(own)
        if "layout" not in data:
            self._without(own)
            return None
        raw = self.reading.table(data["layout"], LAYOUT)
        made = None if raw is None else self.reading.make(LayoutTable, raw, LAYOUT)
        table: LayoutTable | None = made
        before = len(self.reading.problems)
        self.incomplete |= self.chain.incomplete
        boxes = self.chain.boxes.stages | own
        self.reading.problems += self._problems(table, boxes, own)
        if table is None or len(self.reading.problems) > before:
            return None
        cable = self.reading.naming.cable
        sold = {cable(n): spec.sold for n, spec in cables.items() if spec and spec.sold}
        layout = self._layout(table, boxes)
        self.reading.problems += edge_problems(layout, self.reading.naming)
        return Laying(layout, sold)

    def _boxes(self, tables: object) -> dict[str, Standing]:
        """Return the boxes that have a table of their own."""
        listed = self.reading.table(tables, "[boxes]")
        self.incomplete |= listed is None
        found = {}
        for name, table in (listed or {}).items():
            where = box_place(name)
            problem = name_problem(name, where) or self._named(name, where)
            self.reading.problems += [problem] if problem else []
            raw = self.reading.table(table, where)
            made = None if raw is None else self.reading.make(BoxTable, raw, where)
            given = tuple(key for key in PLACING if key in (raw or {}))
            found[name] = Standing(where, given, made if problem is None else None)
            self.incomplete |= problem is not None
        self.chain.boxes.own |= found
        return found

    def _named(self, name: str, where: str) -> Problem | None:
        """Keep the name of a box; return the problem if something is called so already."""
        problem = self.claims.claimed(self.reading.naming.item(name), name, where)
        here = self.chain.boxes
        what = "stage" if name in here.stages else "loop" if name in here.loops else ""
        what = what or self.chain.branches.get(name, "")
        if problem is None or not what:
            return problem
        accepted = "a name of its own"
        return Problem(f"a {what} is called so already", where, quote(name), accepted)

    def _problems(
        self, table: LayoutTable | None, boxes: Mapping[str, Standing], own: Mapping[str, Standing]
    ) -> Iterator[Problem]:
        """Yield what is wrong with where things stand."""
        rows = () if table is None else table.rows
        in_rows = [name for row in rows for name in row]
        placed = [n for n, box in boxes.items() if box.made is not None and box.made.place]
        if (count := len(in_rows) + len(placed)) > MOST_BOXES:
            what = f"at most {MOST_BOXES} boxes stand on one board"
            yield Problem(what, f"{LAYOUT}, rows" if in_rows else LAYOUT, str(count))
            return
        for box in boxes.values():
            if box.made is not None:
                yield from jack_problems(box.where, box.made)
        yield from loop_problems(own, self.chain, self.listed, self.reading.naming)
        if table is None:
            return
        yield from row_problems(table, boxes, self.chain, incomplete=self.incomplete)
        yield from spot_problems({name: boxes[name] for name in placed})
        for name in dict.fromkeys((*in_rows, *placed)):
            if name in boxes:
                yield from box_problems(boxes[name], stands=True)
        for name, box in own.items():
            if name not in in_rows and name not in placed and box.made is not None:
                yield from box_problems(box, stands=False)

    def _without(self, own: Mapping[str, Standing]) -> None:
        """Say what is said in vain where nothing says where things stand."""
        if self.reading.has_layout:  # under a name that is no section
            return
        accepted = "a table [layout] with a row that names it, or the table left out"
        drawing = self.chain.boxes.drawing()
        for box in (box for name, box in own.items() if name not in drawing):
            what = "this has no effect: the file has no [layout]"
            self.reading.fault(what, box.where, accepted=accepted)
        stages = self.chain.boxes.stages.items()
        said = [(name, box) for name, box in stages if box.given]
        if not said:
            return
        keys = dict.fromkeys(key for _, box in said for key in box.given)
        named = ", ".join(quote(name) for name, _ in said[:_MOST_NAMED])
        if len(said) > _MOST_NAMED:
            named += f" and {len(said) - _MOST_NAMED} more"
        verb = "have" if len(keys) > 1 else "has"
        self.reading.warnings.append(
            f"{' and '.join(keys)} of {named} {verb} no effect: the file has no [layout] that says "
            "where boxes stand"
        )

    def _layout(self, table: LayoutTable, boxes: Mapping[str, Standing]) -> Layout:
        item = self.reading.naming.item
        in_rows = {name for row in table.rows for name in row}
        standing = {
            item(name): self._box(item(name), box.made)
            for name, box in boxes.items()
            if box.made is not None and (box.made.place is not None or name in in_rows)
        }
        return Layout(
            file=self.file,
            size=table.size,
            rows=tuple(tuple(map(item, row)) for row in table.rows),
            boxes=standing,
            gap=table.gap,
            slack=table.slack,
            plug_length=table.plug_length,
            entry=table.entry,
            exit=table.exit,
        )

    def _box(self, name: str, made: Outlined) -> Box:
        loops = made.loops if isinstance(made, BoxTable) else ()
        return replace(box_of(name, made), loops=tuple(map(self.reading.naming.item, loops)))


def box_of(name: str, made: Outlined) -> Box:
    """Return what stands on a board of a stage or a table of its own, without its loops.

    Parameters
    ----------
    name : as the outermost board calls it
    made : with a width and a depth
    """
    assert made.width is not None, "what stands somewhere has a width"
    assert made.depth is not None, "what stands somewhere has a depth"
    width, depth = made.width, made.depth
    at = [on_side(point, width, depth) for point in (made.input_at, made.output_at)]
    return Box(name, width, depth, made.jacks, at[0], at[1], made.place)
