"""Tables and texts as every renderer takes them: cells written, names on one line, rows in order.

What is left to a renderer is the escaping of its own format, and the layout.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from sigsim.show.document import WIDE, Group, Total
from sigsim.show.render.text import clean

if TYPE_CHECKING:
    from sigsim.show.document import Cell, Column, Place, Row, Table


@dataclass(frozen=True)
class Line:
    """One row as it is shown; of a group only the first cell says anything."""

    kind: Literal["row", "group", "total"]
    cells: tuple[str, ...]
    grouped: bool


@dataclass(frozen=True)
class Shown:
    """A table as it is shown in one place."""

    headings: tuple[str, ...]
    columns: tuple[Column, ...]
    lines: tuple[Line, ...]


def shown(table: Table, place: Place) -> Iterator[Shown]:
    """Yield a table as one place shows it: nothing, itself, or several with some columns each."""
    if table.only and place not in table.only:
        return
    wide = place in WIDE
    taken = [i for i, c in enumerate(table.columns) if not c.only or place in c.only]
    first, rest = taken[:1], taken[1:]
    most = table.most or max(len(rest), 1)
    for start in range(0, max(len(rest), 1), most):
        indices = [*first, *rest[start : start + most]]
        columns = tuple(table.columns[i] for i in indices)
        headings = tuple(clean(c.title if wide else c.heading) for c in columns)
        yield Shown(headings, columns, tuple(_lines(table.rows, indices, columns, wide)))


def _lines(
    rows: Sequence[Row], indices: Sequence[int], columns: Sequence[Column], wide: bool
) -> Iterator[Line]:
    grouped = False
    above: Sequence[Cell] = ()
    for row in rows:
        if isinstance(row, Group):
            grouped, above = True, ()
            title = columns[0].kind.text(row.title, wide=wide)
            yield Line("group", (clean(title), *[""] * (len(columns) - 1)), False)
            continue
        total = isinstance(row, Total)
        cells = row.cells if isinstance(row, Total) else row
        chosen = [cells[i] for i in indices]
        written = tuple(_cell(*pair, wide=wide) for pair in zip(columns, chosen, strict=True))
        if above:
            written = tuple(
                "" if column.once and cell == before else text
                for column, cell, before, text in zip(columns, chosen, above, written, strict=True)
            )
        above = () if total else chosen
        yield Line("total" if total else "row", written, grouped)


def _cell(column: Column, cell: Cell, *, wide: bool) -> str:
    text = column.kind.text(cell, wide=wide)
    lines = text.split("\n") if column.kind.lines else [text]
    return "\n".join(map(clean, lines))
