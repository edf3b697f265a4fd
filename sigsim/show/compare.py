"""Several boards side by side as a document and as JSON."""

from __future__ import annotations

import math
from string import ascii_uppercase
from typing import TYPE_CHECKING, Any, Final

from sigsim.metrics import NOTICED_DB, verdict
from sigsim.show import kinds
from sigsim.show.document import Column, Document, Paragraph, Table
from sigsim.show.kinds import BLANK
from sigsim.show.loss import UNPROVEN, state_values
from sigsim.show.render.json import finite, json_document
from sigsim.show.render.text import decibel, plain

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sigsim.decide.compare import Cell, CompareReport, Difference, Row
    from sigsim.show import document as shown

_MOST_HEARD: Final = 4
_PATH: Final = 34
_LEGEND: Final = (
    "Level and treble in dB; Δ is the difference to A, a minus of Treble means less lost."
)
_HEARD: Final = (
    "Each board is measured against its own reference, and these differ (another lead or "
    "instrument, other stages on). What arrives, whatever the reference:"
)
_COLUMNS: Final = (
    Column("State", kinds.names(30)),
    Column("", kinds.WORD, rank=0),
    Column("Level", kinds.CHANGE, rank=4),
    Column("Δ", kinds.CHANGE, rank=7),
    Column("4k", kinds.LOSS, rank=5),
    Column("Treble", kinds.LOSS, rank=0),
    Column("Δ ", kinds.CHANGE, rank=1),
    Column(" ", kinds.WORD, "In a word", rank=2),
    Column("Corner", kinds.SHORT_HERTZ, rank=6),
    Column(" Δ", kinds.HERTZ_CHANGE, rank=8),
    Column("Resonance", kinds.PEAK, rank=9),
)


def document(report: CompareReport) -> Document:
    """Return the sentence, which letter is which board, the table and what to mind."""
    return Document(
        "This board or that one",
        (
            Paragraph((sentence(report),), apart=True),
            Paragraph(tuple(_boards(report))),
            Table("Side by side", _COLUMNS, list(_rows(report)), captioned=False),
            Paragraph(tuple(_remarks(report))),
        ),
    )


def sentence(report: CompareReport) -> str:
    """Return the first sentence: which board loses least at worst, and by how much."""
    losses = report.losses
    named = [
        f"{letter}, '{plain(board.name, 40)}'"
        for letter, board in zip(ascii_uppercase, report.boards, strict=False)
    ]
    for name, loss in zip(named, losses, strict=True):
        if not math.isfinite(loss):
            return f"Nothing comes out of {name}: is a volume knob at 0?"
    best, worst = losses.index(min(losses)), losses.index(max(losses))
    gap = losses[worst] - losses[best]
    low, high = (f"{decibel(losses[i])} dB ({verdict(losses[i])})" for i in (best, worst))
    if gap < NOTICED_DB:
        return (
            f"At worst the boards differ by no more than {decibel(gap)} dB of treble, which is "
            f"hardly noticed: they lose {low if low == high else f'{low} to {high}'}."
        )
    return (
        f"{named[best]}, loses {low} of treble at worst; {named[worst]}, loses {high}, "
        f"{decibel(gap)} dB more."
    )


def _boards(report: CompareReport) -> Iterator[str]:
    for letter, board in zip(ascii_uppercase, report.boards, strict=False):
        # Of a long path the end: that is where files differ.
        tail = board.file if len(board.file) <= _PATH else f"…{board.file[1 - _PATH :]}"
        file = f" ({plain(tail, _PATH)})" if board.title else ""
        yield f"{letter}  {plain(board.name, 40)}{file}"


def _rows(report: CompareReport) -> Iterator[shown.Row]:
    for row in report.rows:
        for number, cell in enumerate(row.cells):
            name = BLANK if number else row.title
            yield name, ascii_uppercase[number], *_cells(cell, row.differences[number])


def _cells(cell: Cell | None, change: Difference | None) -> tuple[shown.Cell, ...]:
    if cell is None:
        return math.nan, BLANK, math.nan, math.nan, BLANK, "no scene", BLANK, BLANK, BLANK
    level, treble, corner = (
        (change.level, change.treble_loss, change.corner) if change else (BLANK, BLANK, BLANK)
    )
    s = cell.report
    lost = s.losses[4000.0], s.treble_loss, treble, s.verdict
    return s.level, level, *lost, s.corner, corner, s.resonance


def _remarks(report: CompareReport) -> Iterator[str]:
    for letter, cell in zip(ascii_uppercase, report.worst.cells, strict=False):
        if cell is not None:
            yield f"Worst of {letter}: {plain(cell.report.state.title, 64)}."
    yield _LEGEND
    if not report.scenes:
        yield "No scene is in more than one of the boards, so that none can be compared."
    heard = [
        _heard(row, letter, change)
        for row in report.rows
        for letter, change in zip(ascii_uppercase, row.differences, strict=False)
        if change and change.heard_otherwise
    ]
    if heard:
        yield from (_HEARD, *heard[:_MOST_HEARD])
    if len(heard) > _MOST_HEARD:
        yield f"… and {len(heard) - _MOST_HEARD} more (--json)"
    if not all(report.proven):
        yield UNPROVEN


def _heard(row: Row, letter: str, difference: Difference) -> str:
    more = "more" if difference.treble >= 0 else "less"
    amount = decibel(abs(difference.treble))
    return f"  {plain(row.title, 40)}: {letter} has {amount} dB {more} treble than A."


def as_json(report: CompareReport) -> str:
    """Return the comparison as one JSON document; plain numbers in SI units, null for none."""
    values = {
        "reference": report.basis.reference,
        "band_hz": list(report.basis.band),
        "boards": [
            {"label": letter, "board": board.name, "file": board.file, "worst_proven": proven}
            for letter, board, proven in zip(
                ascii_uppercase, report.boards, report.proven, strict=False
            )
        ],
        "scenes_shared": list(report.scenes),
        "states": [_row_document(state) for state in report.rows],
    }
    return json_document(values)


def _row_document(state: Row) -> dict[str, Any]:
    return {
        "name": state.name,
        "boards": [
            cell and {**state_values(cell.report), "treble_level_db": finite(cell.treble)}
            for cell in state.cells
        ],
        "differences": [change and _difference_document(change) for change in state.differences],
    }


def _difference_document(difference: Difference) -> dict[str, Any]:
    return {
        "treble_loss_db": finite(difference.treble_loss),
        "level_db": finite(difference.level),
        "loss_db": {f"{f:.0f}": finite(loss) for f, loss in difference.losses.items()},
        "treble_level_db": finite(difference.treble),
        "corner_hz": difference.corner,
        "resonance_hz": difference.resonance,
        "resonance_db": difference.resonance_height,
    }
