"""All states as CSV, thousands of rows at a time.

Millions of rows are written, so that nothing is done for one row alone: in a table of bytes each
cell has a place that fits the longest of its column, and what stays empty is taken out at the end.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.metrics import PRINTED_DIGITS, WORDS
from sigsim.show.render import csv
from sigsim.show.render.digits import WIDTH, as_rows, put_numbers
from sigsim.show.states_names import Names, copy_cells, whole
from sigsim.text import shown

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from sigsim.physics.arrays import FloatArray
    from sigsim.show.render.digits import Bytes
    from sigsim.states.blocks import StateBlock

CSV_COLUMNS: Final = (
    "on",
    "level_db",
    *(f"loss_{hz}_db" for hz in (1000, 2000, 4000, 8000)),
    "treble_loss_db",
    "verdict",
    "corner_hz",
    "resonance_hz",
    "resonance_db",
)
_SILENT: Final = "silent"
# The table of bytes [bytes]: as measured, half of it takes longer and twice of it is no faster.
_TABLE: Final = 1 << 20


def csv_lines(switches: Iterable[str], blocks: Iterable[StateBlock]) -> Iterator[tuple[int, str]]:
    """Yield the CSV in pieces, each with how many states it holds; empty cells for none.

    Parameters
    ----------
    switches : the names of what the bits of a state stand for, from the lowest
    blocks : the states
    """
    yield 0, csv.row(CSV_COLUMNS)
    names, words = Names([shown(name) for name in switches]), _Words()
    for block in blocks:
        width = names.width + (len(block.measures) + 3) * WIDTH + words.width + 1
        rows = max(1, _TABLE // width)
        for start in range(0, block.on.size, rows):
            part = slice(start, start + rows)
            table = np.empty((block.on[part].size, width), dtype=np.uint8)
            _fill(table, block, part, names, words)
            cells = table.ravel()
            yield len(table), cells.compress(cells != 0).tobytes().decode()


def _fill(table: Bytes, block: StateBlock, part: slice, names: Names, words: _Words) -> None:
    """Write some states of a block: names, measures, the word for the last of them, the rest."""
    columns = (block.corner, block.resonance, block.resonance_height)
    measures = block.measures[:, part]
    behind = np.stack([column[part] for column in columns])
    names.put(block.on[part], table[:, : names.width])
    at = names.width + len(measures) * WIDTH
    put_numbers(measures, table[:, names.width : at])
    words.put(measures[-1], table[:, at : at + words.width])
    put_numbers(behind, table[:, at + words.width : -1])
    table[:, -1] = ord("\n")


class _Words:
    """The words for a treble loss as cells, a comma before each."""

    def __init__(self) -> None:
        texts = [f",{word}" for _, word in WORDS] + [f",{_SILENT}"]
        self.width = max(map(len, texts))
        self._cells = whole(as_rows(texts, self.width))
        self._edges = np.array([_edge(limit) for limit, _ in WORDS[:-1]])

    def put(self, losses: FloatArray, place: Bytes) -> None:
        """Write the word for each treble loss [dB], and where there is none that for silence."""
        which = np.searchsorted(self._edges, losses, side="right")
        which[~np.isfinite(losses)] = len(WORDS)
        copy_cells(self._cells, which, place)


def _edge(limit: float) -> float:
    """Return the first of all doubles that as it is printed is not under a limit."""
    # The difference is rounded to a double: the search begins a few of them before it.
    edge = limit - 0.5 * 10**-PRINTED_DIGITS - 4 * math.ulp(limit)
    while round(edge, PRINTED_DIGITS) < limit:
        edge = math.nextafter(edge, math.inf)
    return edge
