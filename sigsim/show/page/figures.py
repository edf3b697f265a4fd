"""Where every figure of a board came from, as a section of the page."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from sigsim.quantities import KINDS
from sigsim.show import kinds
from sigsim.show.document import Column, Document, Paragraph, Table
from sigsim.show.kinds import Kind
from sigsim.show.render.text import plain
from sigsim.units import render

if TYPE_CHECKING:
    from sigsim.decide.page.figures import Figure, Figures
    from sigsim.decide.page.report import ReportData

_MOST_NAMES: Final = 6
MOST_TABLES: Final = 400
# A player's words for kinds of things that a board file calls otherwise.
_SAID: Final = {"stage": "pedal", "tap": "side cable", "destination": "input"}
_COLUMNS: Final = (
    Column("Key", kinds.WORD),
    Column("Value", Kind(str)),
    Column("From", kinds.WORD),
    Column("Source", kinds.WORD),
)


def document(data: ReportData) -> Document:
    """Return one table for things that are alike."""
    listed = [found for found in data.figures if found.figures]
    board = data.question.board
    laid = any(run.cable.lays is not None for run in board.runs)
    lengths = "as written there or follow from its layout," if laid else "as written there"
    text = (
        f"Board file: {plain(board.file, 200)}. Lengths of cable are {lengths} and stand in the "
        "chain above. What is not listed has its default: none, or 0."
    )
    left = len(listed) - MOST_TABLES
    more = f"{left:,} more tables are left out here; see the board file."
    tables = [_table(found) for found in listed[:MOST_TABLES]]
    after = [Paragraph((more,), quiet=True)] if left > 0 else []
    return Document("Where every figure came from", (Paragraph((text,)), *tables, *after))


def _table(found: Figures) -> Table:
    names = [
        f"{_SAID.get(kind, kind)} {plain(name, 40)}".strip()
        for kind, name in found.things[:_MOST_NAMES]
    ]
    if len(found.things) > _MOST_NAMES:
        names.append(f"{len(found.things) - _MOST_NAMES} more")
    rows = [(f.key, value_text(f), _origin(f, found.part), _source(f)) for f in found.figures]
    part = f" (part {found.part})" if found.part else ""
    return Table(", ".join(names) + part, _COLUMNS, rows)


def _origin(figure: Figure, part: str) -> str:
    return {"file": "board file", "part": f"part {part}", "default": "default"}[figure.origin]


def _source(figure: Figure) -> str:
    return f"measured {figure.measured}" if figure.measured else figure.source


def value_text(figure: Figure) -> str:
    """Return a value as a board file would show it."""
    text = _plain_value(figure.kind, figure.value)
    return f"{text} ± {100 * figure.tolerance:.3g} %" if figure.tolerance else text


def _plain_value(kind: str, value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return plain(value, 60)
    if isinstance(value, tuple):
        return ", ".join(plain(name, 30) for name in value)
    if kind == "taper":
        return "linear" if value == 0.5 else f"audio {100 * value:.3g} %"
    symbol = KINDS[kind].symbol if kind in KINDS else ""
    if symbol in ("", "dB"):
        return f"{value:.6g} {symbol}".strip()
    return render(float(value), symbol, 4)
