"""CSV as every command writes it: plain SI numbers, and names that stay names."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from sigsim.show.document import Group, Table, Total
from sigsim.text import shown

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from sigsim.show.document import Document
    from sigsim.show.kinds import Plain

# What begins with one of these, a spreadsheet takes for a formula, or drops the mark itself.
_FORMULA: Final = ("=", "+", "-", "@", "'")


def row(cells: Iterable[Plain]) -> str:
    """Return one line of CSV with its end; one of a single empty cell is not an empty line."""
    return (",".join(map(cell, cells)) or '""') + "\n"


def cell(value: Plain) -> str:
    """Return a number with its digits, or text, whole, that is neither a formula nor a new line.

    Parameters
    ----------
    value : a number, None for an empty cell, or text from anywhere
    """
    if isinstance(value, str):
        return guarded(shown(value))
    return f"{value:.12g}" if value is not None and math.isfinite(value) else ""


def guarded(text: str) -> str:
    """Return text of which all is seen as a cell: no formula, in quotation marks if it needs them.

    Parameters
    ----------
    text : without control characters
    """
    if is_formula(text):
        text = f"'{text}"
    return f'"{doubled(text)}"' if is_quoted(text) else text


def is_formula(text: str) -> bool:
    """Return whether a spreadsheet would not take text as it stands, so that a mark goes before."""
    return text.startswith(_FORMULA)


def is_quoted(text: str) -> bool:
    """Return whether a cell that holds this text, and maybe more, is in quotation marks."""
    return "," in text or '"' in text


def doubled(text: str) -> str:
    """Return text as it stands between quotation marks."""
    return text.replace('"', '""')


def as_csv(document: Document) -> str:
    """Return all tables whose columns have keys, an empty line between; no sums over rows."""
    tables = [block for block in document.blocks if isinstance(block, Table)]
    written = [rows for table in tables if (rows := list(_rows(table)))]
    return "\n".join("".join(map(row, rows)) for rows in written)


def _rows(table: Table) -> Iterator[list[Plain]]:
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
    group: list[Plain] = [None] if grouped else []
    yield [*(["group"] if grouped else []), *(column.key for _, column in keyed)]
    for line in table.rows:
        if isinstance(line, Group):
            group = [table.columns[0].kind.plain(line.title)]
        elif not isinstance(line, Total):
            yield [*group, *(column.kind.plain(line[i]) for i, column in keyed)]
