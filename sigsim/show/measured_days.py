"""When figures were measured, where the file tells it: in the wiring sheet and in `check`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from sigsim.show import kinds
from sigsim.show.document import Column, Table

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from sigsim.decide.measured import MeasuredThing
    from sigsim.decide.sheet import Sheet

_DAY: Final = Column("Measured", kinds.WORD, key="measured")
_WHAT: Final = Column("What", kinds.names(40, 80), key="what")
# A player's words; what a file calls a length stands in the chain.
_SAID: Final = {
    "instrument": "instrument",
    "pickup": "pickup ",
    "cable": "cable ",
    "stage": "pedal ",
    "tap": "side cable ",
    "loop": "loop ",
    "destination": "input of ",
    "length": "length of ",
}


def day_column(days: Sequence[str]) -> tuple[Column, ...]:
    """Return the column that says when each was measured, none where no file says so."""
    return (_DAY,) if any(days) else ()


def measured_table(sheet: Sheet) -> Iterator[Table]:
    """Yield the table of all that was measured, if anything was."""
    if sheet.measured:
        rows = [(what(thing), thing.day) for thing in sheet.measured]
        yield Table("Figures that were measured", (_WHAT, _DAY), rows)


def what(thing: MeasuredThing) -> str:
    """Return what a player calls something that was measured."""
    return f"{_SAID[thing.kind]}{thing.name}"


def measured_values(things: Sequence[MeasuredThing]) -> list[dict[str, str | None]]:
    """Return what was measured as plain JSON values."""
    return [{"kind": t.kind, "name": t.name or None, "day": t.day} for t in things]
