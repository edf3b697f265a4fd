"""What the virtual bench hid, beside what the recipes found."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final

from sigsim.show import kinds
from sigsim.show.document import Column, Document, Group, Paragraph, Table
from sigsim.show.kinds import Kind
from sigsim.show.render.text import plain
from sigsim.units import render

if TYPE_CHECKING:
    from sigsim.measure.result import Figure, Measured
    from sigsim.show.document import Row

TITLE: Final = "Measured on a virtual bench"


def _written(value: tuple[float | None, str]) -> str:
    number, unit = value
    if number is None:
        return "-"
    if not unit:
        return f"{number:.3g}"
    return f"{render(number, unit)}"


_VALUE: Final = Kind(_written, data=lambda value: value[0])
_COLUMNS: Final = (
    Column("Figure", kinds.PHRASE),
    Column("Hidden", _VALUE),
    Column("Found", _VALUE),
    Column("95 % from", _VALUE),
    Column("to", _VALUE),
)


def document(
    found: Sequence[tuple[str, Measured, Mapping[str, float]]],
    verdict: Sequence[str],
    hidden_error: str,
    again: Sequence[str],
) -> Document:
    """Return the tables and sentences of the demonstration.

    Parameters
    ----------
    found : for each thing measured what it is, what was found, and what was hidden, by key [SI]
    verdict : of the built board, sentences
    hidden_error : what is not as planned in it
    again : command lines that do the same with the recordings
    """
    rows: list[Row] = []
    for what, measured, hidden in found:
        rows.append(Group(what))
        rows += [_row(key, measured.figures.get(key), value) for key, value in hidden.items()]
    return Document(
        TITLE,
        (
            Paragraph(
                (
                    "An invented bench: an audio interface, a resistor, a cable, a bass and a "
                    "board, with noise and hum.",
                ),
                apart=True,
            ),
            Table("What was hidden and what was found", _COLUMNS, rows, captioned=False),
            Paragraph(tuple(verdict), apart=True),
            Paragraph((f"Hidden in it: {hidden_error}.",), apart=True),
            Paragraph(("The same by hand, with the recordings that are here now:", *again)),
        ),
    )


def _row(key: str, figure: Figure | None, hidden: float) -> Row:
    unit = "" if figure is None else figure.unit
    ends = (None, None, None) if figure is None else (_number(figure), figure.low, figure.high)
    return (plain(key.replace("_", " "), 30), *((value, unit) for value in (hidden, *ends)))


def _number(figure: Figure) -> float | None:
    return figure.value if isinstance(figure.value, float | int) else None
