"""A response as CSV and JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from sigsim.show.ends import at_value
from sigsim.show.render import csv
from sigsim.show.render.json import finite, json_document

if TYPE_CHECKING:
    from sigsim.board.state import State
    from sigsim.physics.arrays import FloatArray
    from sigsim.states.response import Response

COLUMNS: Final = ("frequency_hz", "gain_db", "phase_deg", "reference_gain_db", "loss_db")


def _columns(r: Response) -> tuple[FloatArray, ...]:
    return r.frequency, r.gain_db, r.phase_deg, r.reference.gain_db, r.loss_db


def as_csv(r: Response) -> str:
    """Return the response as CSV, every number with all its digits."""
    rows = zip(*(column.tolist() for column in _columns(r)), strict=True)
    return csv.row(COLUMNS) + "".join(",".join(map(repr, values)) + "\n" for values in rows)


def as_json(r: Response, state: State) -> str:
    """Return the response as one JSON document; null where nothing comes out."""
    named = {"state": state.name, "on": list(state.on)}
    values = {"board": r.board.name, **at_value(r.board), **named}
    columns = {
        heading: [finite(value) for value in column.tolist()]
        for heading, column in zip(COLUMNS, _columns(r), strict=True)
    }
    return json_document(values | columns, indent=None) + "\n"
