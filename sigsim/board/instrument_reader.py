"""Reading `[instrument]`, with the pickups in it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from sigsim.board.pickups_reader import read_pickups
from sigsim.board.reading import Reading, merged_part
from sigsim.errors import nearest, quote
from sigsim.items.instrument import INSTRUMENT_TYPES, ActiveInstrument, PassiveInstrument
from sigsim.items.needs import PICKUPS

if TYPE_CHECKING:
    from sigsim.board.model import Instrument


def read_instrument(reading: Reading, table: Mapping[str, Any] | None) -> Instrument | None:
    """Return the instrument of its table, None if there is none or anything is wrong with it."""
    if table is None:
        return None
    place = "[instrument]"
    table, part = merged_part(reading, table, place, ("instrument",))
    kind = table.pop("type", "passive")
    if not isinstance(kind, str) or kind not in INSTRUMENT_TYPES:
        accepted = tuple(INSTRUMENT_TYPES)
        reading.fault(
            "this type of instrument is not known",
            f"{place}, type",
            found=quote(kind),
            accepted=", ".join(accepted),
            nearest=nearest(str(kind), accepted),
        )
        return None
    if not reading.suits(part, place, "type", kind):
        return None
    made: Instrument | None
    if kind == "active":
        made = reading.make(ActiveInstrument, table, place, part, also=("type", "part"))
        return made
    pickups = read_pickups(reading, table, part)
    made = reading.make(
        PassiveInstrument,
        table,
        place,
        part,
        {PICKUPS: tuple(filter(None, pickups))},
        also=("type", "part", PICKUPS),
        beside={PICKUPS: pickups},
    )
    return made
