"""What a section of the page is made of; the page turns it into elements, all of it as text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Table:
    """A table: its caption, headings, which columns hold numbers, rows, and bars from 0 to 1."""

    caption: str
    columns: Sequence[str]
    numbers: Sequence[int]
    rows: Sequence[Sequence[str]]
    bars: Sequence[float] = ()


@dataclass(frozen=True)
class Section:
    """A section of the page: sentences, tables, a list, and remarks behind them."""

    id: str
    title: str
    text: Sequence[str] = ()
    tables: Sequence[Table] = ()
    list: Sequence[str] = ()
    after: Sequence[str] = ()


def section_values(section: Section) -> dict[str, Any]:
    """Return a section as the scripts of the page take it."""
    return {
        "id": section.id,
        "title": section.title,
        "blocks": [
            {"kind": "text", "lines": list(section.text), "quiet": False},
            *({"kind": "table", "groups": [], **vars(table)} for table in section.tables),
            *([{"kind": "list", "lines": list(section.list)}] if section.list else []),
            {"kind": "text", "lines": list(section.after), "quiet": True},
        ],
    }
