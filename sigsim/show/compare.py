"""Several boards side by side as words, a table and JSON."""

from __future__ import annotations

import math
from string import ascii_uppercase
from typing import TYPE_CHECKING, Any, Final

from sigsim.metrics import verdict
from sigsim.show.loss import state_values
from sigsim.show.render.json import finite, json_document
from sigsim.show.render.terminal import row, show, table
from sigsim.show.render.text import decibel, peak, plain, short_hertz, signed

if TYPE_CHECKING:
    from rich.table import Table

    from sigsim.decide.compare import Cell, CompareReport, Difference, Row

_NOTICED_DB: Final = 0.5


def print_compare(report: CompareReport) -> None:
    """Print the sentence, which letter is which board, the table and what to mind."""
    show(sentence(report), "")
    for letter, board in zip(ascii_uppercase, report.boards):  # noqa: B905
        file = f" ({_tail(board.file, 34)})" if board.title else ""
        show(f"{letter}  {plain(board.name, 40)}{file}")
    show(_table(report))
    for letter, cell in zip(ascii_uppercase, report.worst.cells):  # noqa: B905
        if cell is not None:
            show(f"Worst of {letter}: {plain(cell.report.state.title, 64)}.")
    show("Level and treble in dB; Δ is the difference to A, a minus of Treble means less lost.")
    if not report.scenes:
        show("No scene is in more than one of the boards, so that none can be compared.")
    for line in _heard_otherwise(report):
        show(line)
    if not all(report.proven):
        show("Too many passive switches in one run to try them all: a worse state may exist.")


def _tail(path: str, longest: int) -> str:
    """Return a path, its end if it is long: that is where files differ."""
    return plain(path if len(path) <= longest else f"…{path[1 - longest :]}", longest)


def sentence(report: CompareReport) -> str:
    """Return the first sentence: which board loses least at worst, and by how much."""
    names = [board.name for board in report.boards]
    cells = [cell for cell in report.worst.cells if cell is not None]
    losses = [cell.report.treble_loss for cell in cells]
    silent = [i for i, loss in enumerate(losses) if not math.isfinite(loss)]
    if silent:
        return (
            f"Nothing comes out of {ascii_uppercase[silent[0]]}, "
            f"'{plain(names[silent[0]], 40)}': is a volume knob at 0?"
        )
    best = min(range(len(losses)), key=losses.__getitem__)
    worst = max(range(len(losses)), key=losses.__getitem__)
    gap = losses[worst] - losses[best]
    low, high = (f"{decibel(losses[i])} dB ({verdict(losses[i])})" for i in (best, worst))
    if gap < _NOTICED_DB:
        return (
            f"At worst the boards differ by no more than {decibel(gap)} dB of treble, which is "
            f"hardly noticed: they lose {low if low == high else f'{low} to {high}'}."
        )
    return (
        f"{ascii_uppercase[best]}, '{plain(names[best], 40)}', loses {low} of treble at worst; "
        f"{ascii_uppercase[worst]}, '{plain(names[worst], 40)}', loses {high}, "
        f"{decibel(gap)} dB more."
    )


def _table(report: CompareReport) -> Table:
    made = table(
        ["State", "", "Level", "Δ", "4k", "Treble", "Δ ", " ", "Corner", " Δ", "Resonance"],
        names=("State",),
        words=("", " "),
    )
    for state in report.rows:
        for number, (letter, cell) in enumerate(zip(ascii_uppercase, state.cells)):  # noqa: B905
            name = plain(state.name, 30) if number == 0 else ""
            row(made, name, letter, *_cells(cell, state.differences[number]))
    return made


def _cells(cell: Cell | None, difference: Difference | None) -> tuple[str, ...]:
    if cell is None:
        return ("-", "", "-", "-", "", "no scene", "", "", "")
    report = cell.report
    return (
        signed(report.level),
        "" if difference is None else signed(difference.level),
        decibel(report.losses[4000.0]),
        decibel(report.treble_loss),
        "" if difference is None else signed(difference.treble_loss),
        report.verdict,
        short_hertz(report.corner),
        "" if difference is None else _hertz_change(difference.corner),
        peak(report.resonance),
    )


def _hertz_change(value: float | None) -> str:
    if value is None:
        return "-"
    sign = "-" if value < 0 else "+"
    return f"{sign}{short_hertz(abs(value))}"


def _heard_otherwise(report: CompareReport) -> list[str]:
    """Say where the losses differ otherwise than what arrives, because the references differ."""
    lines = []
    for state in report.rows:
        for letter, difference in zip(ascii_uppercase, state.differences):  # noqa: B905
            if difference is None or not math.isfinite(difference.treble_loss):
                continue
            if abs(difference.treble + difference.treble_loss) >= _NOTICED_DB:
                lines.append(_heard(state, letter, difference))
    if not lines:
        return []
    shown = lines[:4] + ([f"… and {len(lines) - 4} more (--json)"] if len(lines) > 4 else [])
    why = (
        "Each board is measured against its own reference, and these differ (another lead or "
        "instrument, other stages on). What arrives, whatever the reference:"
    )
    return [why, *shown]


def _heard(state: Row, letter: str, difference: Difference) -> str:
    more = "more" if difference.treble >= 0 else "less"
    amount = decibel(abs(difference.treble))
    return f"  {plain(state.name, 40)}: {letter} has {amount} dB {more} treble than A."


def as_json(report: CompareReport) -> str:
    """Return the comparison as one JSON document; plain numbers in SI units, null for none."""
    values = {
        "reference": report.basis.reference,
        "band_hz": list(report.basis.band),
        "boards": [
            {"label": letter, "board": board.name, "file": board.file, "worst_proven": proven}
            for letter, board, proven in zip(  # noqa: B905
                ascii_uppercase, report.boards, report.proven
            )
        ],
        "scenes_shared": list(report.scenes),
        "states": [_row_document(state) for state in report.rows],
    }
    return json_document(values)


def _row_document(state: Row) -> dict[str, Any]:
    return {
        "name": state.name,
        "boards": [None if cell is None else _cell_document(cell) for cell in state.cells],
        "differences": [
            None if difference is None else _difference_document(difference)
            for difference in state.differences
        ],
    }


def _cell_document(cell: Cell) -> dict[str, Any]:
    return {**state_values(cell.report), "treble_level_db": finite(cell.treble)}


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
