"""The tables of documents as CSV: plain SI numbers, one table below the other."""

from __future__ import annotations

import csv
import io
import math
from typing import TYPE_CHECKING, Final

from sigsim.show.document import Group, Table, Total
from sigsim.show.render.text import plain

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sigsim.show.document import Document
    from sigsim.show.kinds import Plain

_LONGEST: Final = 200
# What begins with one of these, a spreadsheet takes for a formula.
_FORMULA: Final = ("=", "+", "-", "@")


def as_csv(document: Document) -> str:
    """Return all tables whose columns have keys, an empty line between; no sums over rows."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    tables = [block for block in document.blocks if isinstance(block, Table)]
    written = [rows for table in tables if (rows := list(_rows(table)))]
    for number, rows in enumerate(written):
        writer.writerows([[]] if number else [])
        writer.writerows(rows)
    return out.getvalue()


def _rows(table: Table) -> Iterator[list[str]]:
    """Yield headings and rows; a group goes before each of its rows, as a cell of its own."""
    if table.only and "csv" not in table.only:
        return
    keyed = [
        (i, column)
        for i, column in enumerate(table.columns)
        if column.key is not None and (not column.only or "csv" in column.only)
    ]
    if not keyed:
        return
    grouped = any(isinstance(row, Group) for row in table.rows)
    group = [""] if grouped else []
    yield [*(["group"] if grouped else []), *(_cell(column.key) for _, column in keyed)]
    for row in table.rows:
        if isinstance(row, Group):
            group = [_cell(table.columns[0].kind.plain(row.title))]
        elif not isinstance(row, Total):
            yield [*group, *(_cell(column.kind.plain(row[i])) for i, column in keyed)]


def _cell(value: Plain) -> str:
    """Return a number with all its digits, or a name that no spreadsheet takes for a formula."""
    if isinstance(value, str):
        name = plain(value, _LONGEST)
        return f"'{name}" if name.startswith(_FORMULA) else name
    return f"{value:.12g}" if value is not None and math.isfinite(value) else ""
