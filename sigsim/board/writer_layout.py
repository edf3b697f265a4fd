"""The examples of a first board file that say where its pedals stand and what feeds them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from sigsim.board.named_parts import Pedal
from sigsim.board.parts import part
from sigsim.quantities import INCH, WITHOUT_PREFIX
from sigsim.units import parse

# So many pedals stand side by side, at most.
_IN_A_ROW: Final = 5
# Room between two boxes, enough for the plugs of 2 cm in two jacks that face each other; more on
# every cable; the unit [cm] and its name.
_CENTIMETRES: Final = (4, 3, 1.0, "cm")
_INCHES: Final = (2, 1, 100 * INCH, "in")
_USUAL_CM: Final = {"width": 7.0, "depth": 12.0}
_CURRENT: Final = '#current = "20 mA"   # what it draws, as its label says\n'

_LAYOUT: Final = """\
# Where the pedals stand, seen from above: the back row first, each row from left to right. Without
# the length under [wiring] every patch cable then has its length from here. "sigsim layout FILE"
# says how long each has to be and what to buy. The sizes of the parts are usual ones; your own go
# under a pedal as width and depth.
#[layout]
#size = [{size}]
{rows}
#gap = "{gap}"
#slack = "{slack}"

"""
SUPPLIES: Final = """\
# What feeds the pedals: each output of a supply, with the most that it gives. With a current under
# each pedal "sigsim power FILE" says which pedal goes on which output.
#[supplies.main]
#isolated = true
#outputs = [{ current = "100 mA", voltage = "9 V" }, { current = "300 mA", voltage = "9 V" }]

"""


def layout_example(pedals: Sequence[Pedal], names: Sequence[str], *, imperial: bool) -> str:
    """Return a layout of all pedals as an example, the first at the near right.

    Parameters
    ----------
    pedals : in the order of the chain
    names : of these as the file has them, quoted
    imperial : whether lengths are in inches
    """
    rows = [range(len(pedals))[i : i + _IN_A_ROW] for i in range(0, len(pedals), _IN_A_ROW)]
    told = [[_centimetres(pedals[i], "width") for i in row] for row in rows]
    gap, slack, unit, name = _INCHES if imperial else _CENTIMETRES
    width = max(sum(row) + gap * unit * (len(row) - 1) for row in told)
    deep = [max(_centimetres(pedals[i], "depth") for i in row) for row in rows]
    depth = sum(deep) + gap * unit * (len(rows) - 1)
    size = (math.ceil(length / unit - 1e-6) for length in (width, depth))
    shown = [f"[{', '.join(names[i] for i in reversed(row))}]" for row in reversed(rows)]
    listed = f"#rows = [{shown[0]}]"
    if len(shown) > 1:
        listed = "\n".join(["#rows = [", *(f"#{row}," for row in shown), "#]"])
    return _LAYOUT.format(
        size=", ".join(f'"{length} {name}"' for length in size),
        rows=listed,
        gap=f"{gap} {name}",
        slack=f"{slack} {name}",
    )


def sold_example(*, imperial: bool) -> str:
    """Return the lengths in which a patch cable may be sold, as an example."""
    metric = '"15 cm", "30 cm", "60 cm", "1.5 m"'
    sizes = '"6 in", "12 in", "24 in", "60 in"' if imperial else metric
    note = "# Where it is bought ready-made: in which lengths, the shortest first."
    return f"{note}\n#sold = [{sizes}]\n"


def pedal_example(pedal: Pedal, *, first: bool) -> str:
    """Return what stands under a pedal as an example: its current, and a size the part lacks.

    Parameters
    ----------
    pedal : the pedal
    first : whether it is the first that draws a current
    """
    values = part(pedal.part).values
    lacking = [key for key in _USUAL_CM if key not in values]
    sizes = "".join(f'#{key} = "{_USUAL_CM[key]:g} cm"\n' for key in lacking)
    return sizes + (_CURRENT if first else "")


def is_powered(pedal: Pedal) -> bool:
    """Whether a pedal draws a current."""
    return str(part(pedal.part).values.get("kind", "active")) == "active"


def is_imperial(length: str) -> bool:
    """Whether a length as it was written is in feet or inches."""
    return length.rstrip().endswith(WITHOUT_PREFIX)


def _centimetres(pedal: Pedal, key: str) -> float:
    values = part(pedal.part).values
    return 100 * parse(values[key], "length").value if key in values else _USUAL_CM[key]
