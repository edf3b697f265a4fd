"""Where every figure of a board came from, as a section of the page; sources are folded away."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from sigsim.quantities import KINDS
from sigsim.show import kinds
from sigsim.show.document import Column, Document, Paragraph, Table
from sigsim.show.kinds import Kind
from sigsim.show.render.browser import section
from sigsim.show.render.text import clean, plain
from sigsim.units import render

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from sigsim.board.model import Board
    from sigsim.decide.page.figures import Figure, Figures
    from sigsim.decide.page.report import ReportData

TITLE: Final = "Where every figure came from"
_MOST_NAMES: Final = 6
MOST_TABLES: Final = 400
# A player's words for kinds of things that a board file calls otherwise.
_SAID: Final = {"stage": "pedal", "tap": "side cable", "destination": "input"}
_ORIGINS: Final = {"file": "board file", "part": "its part", "default": "default"}
_COLUMNS: Final = (
    Column("Key", kinds.WORD),
    Column("Value", Kind(str)),
    Column("From", kinds.WORD),
)


def figures_section(data: ReportData) -> dict[str, Any]:
    """Return one table for things that are alike, and behind it the sources of its figures."""
    return figures_of_board(data.question.board, data.figures)


def figures_of_board(board: Board, found: Sequence[Figures]) -> dict[str, Any]:
    """Return the same of a board whose figures were found."""
    listed = [one for one in found if one.figures]
    laid = any(run.cable.lays is not None for run in board.runs)
    lengths = "as written there or follow from its layout," if laid else "as written there"
    text = (
        f"Board file: {plain(board.file, 200)}. Lengths of cable are {lengths} and stand on the "
        "line above. What is not listed has its default: none, or 0."
    )
    made = section("figures", Document(TITLE, (Paragraph((text,)),)))
    for one in listed[:MOST_TABLES]:
        made["blocks"] += section("", Document("", (_table(one),)))["blocks"]
        if lines := list(_sources(one)):
            made["blocks"].append({"kind": "folded", "title": "Sources", "lines": lines})
    if (left := len(listed) - MOST_TABLES) > 0:
        more = Paragraph(
            (f"{left:,} more tables are left out here; see the board file.",), quiet=True
        )
        made["blocks"] += section("", Document("", (more,)))["blocks"]
    return made


def _table(found: Figures) -> Table:
    names = [
        f"{_SAID.get(kind, kind)} {plain(name, 40)}".strip()
        for kind, name in found.things[:_MOST_NAMES]
    ]
    if len(found.things) > _MOST_NAMES:
        names.append(f"{len(found.things) - _MOST_NAMES} more")
    rows = [(f.key, value_text(f), _ORIGINS[f.origin]) for f in found.figures]
    part = f" (part {found.part})" if found.part else ""
    return Table(", ".join(names) + part, _COLUMNS, rows)


def _sources(found: Figures) -> Iterator[str]:
    """Yield every source with the figures that are from it."""
    keys: dict[str, list[str]] = {}
    for figure in found.figures:
        if source := _source(figure):
            keys.setdefault(source, []).append(figure.key)
    for source, from_it in keys.items():
        yield clean(f"{', '.join(from_it)}: {source}")


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
