"""All states as CSV the plain way, a row after another: what the fast writer must agree with."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence

from sigsim import metrics
from sigsim.show.states_csv import CSV_COLUMNS
from sigsim.states.every import StateBlock
from sigsim.text import shown


def plain_csv(switches: Sequence[str], blocks: Sequence[StateBlock]) -> str:
    """Return heading and rows as the csv module writes them, numbers as Python formats them."""
    file = io.StringIO()
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow(CSV_COLUMNS)
    for block in blocks:
        numbers = (*block.measures, block.corner, block.resonance, block.resonance_height)
        for on, *values in zip(block.on.tolist(), *(n.tolist() for n in numbers), strict=True):
            cells = [f"{v:.6g}" if math.isfinite(v) else "" for v in values]
            loss = values[-4]
            cells.insert(-3, metrics.verdict(loss) if math.isfinite(loss) else "silent")
            writer.writerow([_names(switches, on), *cells])
    return file.getvalue()


def _names(switches: Sequence[str], on: int) -> str:
    text = " + ".join(shown(name) for i, name in enumerate(switches) if on >> i & 1)
    # What a spreadsheet would take for a formula gets a mark before it.
    return f"'{text}" if text[:1] in tuple("=+-@'") else text
