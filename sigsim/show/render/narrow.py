"""Tables where there is little room: the least important columns are left out, and it is said."""

from __future__ import annotations

import dataclasses
import os
import sys
from typing import TYPE_CHECKING, Final

from rich.cells import cell_len

if TYPE_CHECKING:
    from sigsim.show.document import Column
    from sigsim.show.render.cells import Shown

WIDTH: Final = 80
_NARROWEST: Final = 20
_GAP: Final = 1
# A name that wraps has at least this part of the line, if it is as long [-].
_NAME: Final = 0.3


def width() -> int:
    """Return how wide what is printed may be: as the terminal is, 80 columns at most."""
    try:
        columns = int(os.environ.get("COLUMNS", ""))
    except ValueError:
        columns = 0
    if columns <= 0 and sys.stdout.isatty():
        try:
            columns = os.get_terminal_size(sys.stdout.fileno()).columns
        except (OSError, ValueError):
            columns = 0
    return min(WIDTH, max(_NARROWEST, columns)) if columns > 0 else WIDTH


def fitted(part: Shown, room: int) -> tuple[Shown, list[str]]:
    """Return a table without the columns for which there is no room, and what they are called.

    Parameters
    ----------
    part : the table
    room : how wide it may be; with 80 columns nothing is left out
    """
    kept = list(range(len(part.columns)))
    if room >= WIDTH:
        return part, []
    widths = [_needed(part, i, room) for i in kept]
    while len(kept) > 1 and sum(widths[i] + _GAP for i in kept) + _GAP > room:
        last = max(kept, key=lambda i: (_rank(part.columns[i], i), i))
        if _rank(part.columns[last], last) == 0:
            break
        kept.remove(last)
    left = [_called(part.columns[i]) for i in range(len(part.columns)) if i not in kept]
    lines = tuple(
        dataclasses.replace(line, cells=tuple(line.cells[i] for i in kept)) for line in part.lines
    )
    columns = tuple(part.columns[i] for i in kept)
    shown = dataclasses.replace(
        part, headings=tuple(part.headings[i] for i in kept), columns=columns, lines=lines
    )
    return shown, left


def _rank(column: Column, place: int) -> int:
    """Return how early a column is left out; 0 is never."""
    if column.rank is not None:
        return column.rank
    # A name stays; of numbers those further to the right go first.
    return 0 if place == 0 or column.kind.wraps else 1


def _called(column: Column) -> str:
    return column.heading.strip() or (column.wide or "").strip().lower() or "remarks"


def _needed(part: Shown, i: int, room: int) -> int:
    """Return how wide a column must be so that no word is broken."""
    cells = [part.headings[i], *(line.cells[i] for line in part.lines if line.kind != "group")]
    whole = max((cell_len(line) for cell in cells for line in cell.split("\n")), default=0)
    if not part.columns[i].kind.wraps:
        return whole
    words = max((cell_len(word) for cell in cells for word in cell.split()), default=0)
    return min(whole, max(words, int(_NAME * room)))
