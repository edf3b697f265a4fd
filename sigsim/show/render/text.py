"""Small pieces of text: safe names, numbers with their units, tables that fit."""

from __future__ import annotations

import math
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from sigsim.units import render

if TYPE_CHECKING:
    from rich.table import Table

    from sigsim.metrics import Resonance

WIDTH = 80


def plain(text: str, longest: int = 60) -> str:
    """Return a name from a file on one line without control characters, shortened if long."""
    from rich.cells import cell_len, set_cell_size

    line = "".join(c if c.isprintable() else " " for c in text)
    line = " ".join(line.split())
    if cell_len(line) <= longest:
        return line
    return set_cell_size(line, longest - 1).rstrip() + "…"


def count(number: int, word: str, plural: str = "") -> str:
    """Return `1 piece`, `2 pieces`."""
    return f"{number:,} {word}" if number == 1 else f"{number:,} {plural or word + 's'}"


def hertz(value: float | None) -> str:
    """Return a frequency as `2.93 kHz`, "none" for None."""
    return "none" if value is None else render(value, "Hz")


def short_hertz(value: float | None) -> str:
    """Return a frequency for a narrow column: `2.93k`, `870`, `none`."""
    if value is None:
        return "none"
    return f"{value / 1000:.3g}k" if value >= 999.5 else f"{value:.0f}"


def decibel(value: float, digits: int = 1) -> str:
    """Return a level without a sign unless negative, "-" where there is none."""
    if not math.isfinite(value):
        return "-"
    rounded = round(value, digits) + 0.0  # no minus zero
    return f"{rounded:.{digits}f}"


def signed(value: float, digits: int = 1) -> str:
    """Return a level change with its sign, "-" where there is none."""
    if not math.isfinite(value):
        return "-"
    rounded = round(value, digits) + 0.0
    return f"{rounded:+.{digits}f}"


def peak(resonance: Resonance | None) -> str:
    """Return a resonance for a narrow column: `2.93k +6.2`, `none`."""
    if resonance is None:
        return "none"
    return f"{short_hertz(resonance.frequency)} {signed(resonance.height)}"


def finite(value: float | None) -> float | None:
    """Return a number for JSON: None unless it is finite."""
    return value if value is not None and math.isfinite(value) else None


def table(columns: Sequence[str], *, names: Sequence[str] = (), words: Sequence[str] = ()) -> Table:
    """Return an empty table in the one style of this tool.

    Parameters
    ----------
    columns : headings
    names : the headings of columns that hold text and may wrap
    words : the headings of columns that hold single words; all others hold numbers
    """
    from rich.box import SIMPLE_HEAD
    from rich.table import Table

    made = Table(box=SIMPLE_HEAD, padding=0)
    made.pad_edge = False
    for heading in columns:
        wraps = heading in names
        made.add_column(
            heading,
            justify="left" if wraps or heading in words else "right",
            no_wrap=not wraps,
            overflow="fold" if wraps else "ellipsis",
        )
    return made


def row(into: Table, *cells: str) -> None:
    """Add a row of plain text; nothing in it is markup."""
    from rich.text import Text

    into.add_row(*(Text(cell) for cell in cells))


def show(*parts: Any) -> None:
    """Print text and tables to standard output, at most 80 columns wide, colour only if wanted."""
    from rich.console import Console
    from rich.text import Text

    console = Console(width=WIDTH, highlight=False, markup=False, emoji=False, soft_wrap=False)
    with console.capture() as captured:
        for part in parts:
            console.print(Text(part) if isinstance(part, str) else part)
    sys.stdout.write("".join(f"{line.rstrip()}\n" for line in captured.get().splitlines()))
