"""What the wiring sheet says of a kind of cable, and of a cable that hangs at the side."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from sigsim.physics.arrays import scalar
from sigsim.show import kinds
from sigsim.show.document import Column
from sigsim.show.figures import value_text
from sigsim.show.kinds import Named
from sigsim.show.render.text import plain
from sigsim.show.sheet_bought import sold_words
from sigsim.units import render

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from sigsim.decide.purchases import Purchase
    from sigsim.decide.sheet import Connection
    from sigsim.items.cable import CableSpec

# On a narrow page the name of the cable says it: it begins with the loop.
_BOARD: Final = Column("Board", kinds.names(24, 40), key="board", only=("html", "csv"))
# What a shop's page or a drum says of a cable: the key, the words before it, its unit in SI.
_FIGURES: Final = (
    ("capacitance", "", "F/m"),
    ("resistance", "", "Ω/m"),
    ("inductance", "", "H/m"),
    ("loss_tangent", "loss tangent ", ""),
    ("plug_capacitance", "each plug ", "F"),
)


def board_column(files: Sequence[str]) -> tuple[Column, ...]:
    """Return the column that says which board inside each belongs to, none where none is inside."""
    return (_BOARD,) if any(files) else ()


def figures(bought: Purchase) -> str:
    """Return what to ask for when buying a cable: its part, and its figures as the file has them.

    Parameters
    ----------
    bought : one cable of the list
    """
    part = [f"part {bought.part}"] if bought.part else []
    said = [*part, *_figures(bought.spec)] or ["no figures in the file"]
    said += filter(None, [sold_words(bought)])
    return f"{plain(bought.cable, 24)}: {', '.join(said)}."


def _figures(spec: CableSpec) -> Iterator[str]:
    for key, words, unit in _FIGURES:
        value = getattr(spec, key)
        # Of a cable of the library its name says all the rest.
        if value and (key == "capacitance" or not spec.part or key in spec.bare):
            written = plain(getattr(value, "text", ""), 30)
            yield words + (written or value_text(scalar(value), unit))


def from_where(connection: Connection, begin: str) -> str | Named:
    """Return where a connection begins; of a side cable, whose output it hangs on.

    Parameters
    ----------
    connection : one of the sheet
    begin : what that end is called
    """
    plugged = connection.side is not None and connection.begin.at in ("stage", "instrument")
    return Named(begin, "output of ") if plugged else begin


def to_where(connection: Connection, end: str) -> str | Named:
    """Return where a connection ends; of a side cable, what is plugged in there.

    Parameters
    ----------
    connection : one of the sheet
    end : what that end is called
    """
    tap = connection.side
    if tap is None:
        return end
    plugged = [
        render(scalar(value), unit)
        for value, unit in ((tap.input_resistance, "Ω"), (tap.input_capacitance, "F"))
        if value
    ]
    stopper = scalar(tap.input_series_resistance)
    behind = f" behind {render(stopper, 'Ω')}" if stopper else ""
    return Named(end, after=f": input of {' and '.join(plugged)}{behind}" if plugged else ": open")


def side_values(connection: Connection) -> dict[str, Any]:
    """Return whether this is a side cable, and what is at its far end, as plain JSON values."""
    tap = connection.side
    resistance = None if tap is None else tap.input_resistance
    return {
        "side_cable": tap is not None,
        "far_end_resistance_ohm": None if resistance is None else scalar(resistance),
        "far_end_capacitance_f": None if tap is None else scalar(tap.input_capacitance),
        "far_end_series_resistance_ohm": (
            None if tap is None else scalar(tap.input_series_resistance)
        ),
    }
