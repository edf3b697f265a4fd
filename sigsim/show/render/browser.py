"""Documents as plain values for the scripts of the page, which make elements of them, as text."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from sigsim.show.document import Heading, Items, Paragraph, Table
from sigsim.show.kinds import BAR
from sigsim.show.render.cells import shown
from sigsim.show.render.text import clean

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sigsim.show.document import Block, Column, Document
    from sigsim.show.render.cells import Shown


def section(name: str, document: Document) -> dict[str, Any]:
    """Return a document as a section of the page.

    Parameters
    ----------
    name : by which the page links to it
    document : what it says; what is only for paper is left out
    """
    blocks = [made for block in document.blocks for made in _values(block)]
    return {"id": name, "title": clean(document.title), "blocks": blocks}


def _values(block: Block) -> Iterator[dict[str, Any]]:
    match block:
        case Heading(text):
            yield {"kind": "heading", "text": clean(text)}
        case Paragraph(lines, quiet):
            yield {"kind": "text", "lines": [clean(line) for line in lines], "quiet": quiet}
        case Items(lines):
            yield {"kind": "list", "lines": [clean(line) for line in lines]}
        case Table():
            for part in shown(block, "browser"):
                yield _table(block, part)


def _table(table: Table, part: Shown) -> dict[str, Any]:
    bar = next((i for i, c in enumerate(part.columns) if c.kind is BAR), None)
    kept = [i for i in range(len(part.columns)) if i != bar]
    return {
        "kind": "table",
        "caption": clean(table.title),
        "columns": [part.headings[i] for i in kept],
        "numbers": [n for n, i in enumerate(kept) if part.columns[i].kind.right],
        "rows": [[line.cells[i] for i in kept] for line in part.lines],
        "groups": [n for n, line in enumerate(part.lines) if line.kind == "group"],
        "bars": [] if bar is None else _shares(table, part.columns[bar]),
    }


def _shares(table: Table, column: Column) -> list[float]:
    """Return lengths of bars: the largest is 1, what is negative or not a number is 0."""
    place = table.columns.index(column)
    values = [row[place] if isinstance(row, tuple) else math.nan for row in table.rows]
    most = max((v for v in values if v == v), default=0.0)
    return [max(v / most, 0.0) if most > 0 and v == v else 0.0 for v in values]
