"""Measured figures in everyday units, with as many digits as their interval tells."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, TypeGuard

from sigsim.units import render

if TYPE_CHECKING:
    from sigsim.measure.result import Figure

_FEWEST, _MOST = 3, 4
# Of an exponent or a loss tangent: less is nothing.
_DECIMALS: Final = 4
# Below this [dB] nobody asks how much it is.
_NOTHING_DB: Final = 0.001
# How far an interval may reach above its value, as a part of it: a file can say ± 100 %.
_FAR: Final = 1.02
# What is below this part of the upper end of an interval is none.
_NONE: Final = 0.05
UNTOLD: Final = "cannot be told"
# What a figure is called; where a recipe calls it something else, under the recipe's name.
_WORDS: Final = {
    "total_capacitance": "capacitance in all",
    "capacitance": "capacitance, wiring and jack included",
    "resistance": "resistance of the coil",
    "inductance": "inductance of the coil",
    "loss_resistance": "loss resistance at 1 kHz",
    "input_series_resistance": "resistor in series with the input",
    "input_capacitor": "capacitor at the input",
    "output_capacitor": "capacitor at the output",
    "wiring_capacitance": "capacitance of its wiring",
    "contact_resistance": "resistance of its contacts",
    "bypass_input_resistance": "input resistance when off",
    "bypass_input_capacitance": "input capacitance when off",
    "volume_track": "volume pot",
    "tone_track": "tone pot",
    "resistor": "the resistor",
    "output_resistance": "output resistance",
    "interface_input": "interface input",
    "plug_capacitance": "capacitance of a plug",
}
_OF_A_RECIPE: Final = {
    ("cable", "capacitance"): "capacitance per metre",
    ("cable", "loss_tangent"): "loss in the insulation (tangent)",
}


def in_words(key: str, recipe: str) -> str:
    """Return what a person calls a figure.

    Parameters
    ----------
    key : of a board file, or an option without its dashes
    recipe : that found it, empty for none
    """
    return _OF_A_RECIPE.get((recipe, key)) or _WORDS.get(key) or key.replace("_", " ")


def value_text(value: float, unit: str, digits: int = 3) -> str:
    """Return a number with its unit: `98 pF/m`, `0.5`."""
    if not unit:
        return f"{round(value, _DECIMALS) + 0.0:.{digits}g}"  # no minus zero
    return render(value, unit, digits)


def figure_text(figure: Figure) -> str:
    """Return a figure with the digits that are sure, or the bound that is all there is."""
    if isinstance(figure.value, str):
        return figure.value
    if is_open(figure):
        return _within(figure)
    if figure.value is not None:
        return value_text(figure.value, figure.unit, digits(figure))
    if _is_sure(figure.low):
        return f"more than {value_text(figure.low, figure.unit, 2)}"
    if _is_sure(figure.high):
        return f"less than {value_text(figure.high, figure.unit, 2)}"
    return UNTOLD


def is_open(figure: Figure) -> bool:
    """Whether an interval reaches so far that the value in it says nothing: by more than itself.

    A number without a unit, such as an exponent, is often none at all, and says so.
    """
    value, high = figure.value, figure.high
    if not isinstance(value, float) or not (_is_sure(figure.low) and _is_sure(high)):
        return False
    return high - value > _FAR * value >= 0 and (bool(figure.unit) or high > 1)


def _within(figure: Figure) -> str:
    """Return the ends of an interval, the upper one alone where the lower is as good as none."""
    low, high = figure.low or 0.0, figure.high or 0.0
    if low < _NONE * high:
        return f"less than {value_text(high, figure.unit, 2)}"
    return span(low, high, figure.unit, 2)


def within_db(value: float) -> str:
    """Return within how much two things agree, with no more digits than matter to anyone."""
    return f"{max(round(value, 3), _NOTHING_DB):.2g} dB"


def bounds(figure: Figure) -> str:
    """Return the interval of a figure, empty where there is only a bound."""
    if (
        figure.value is None
        or is_open(figure)
        or not (_is_sure(figure.low) and _is_sure(figure.high))
    ):
        return ""
    if figure.low == figure.high:
        return "exact"
    return span(figure.low, figure.high, figure.unit, digits(figure))


def span(low: float, high: float, unit: str, digits: int = 3) -> str:
    """Return `583 to 596 pF`; a unit that differs only in its prefix stands with both."""
    first, last = (value_text(end, unit, digits) for end in (low, high))
    if first == last:
        return first
    number, _, tail = first.partition(" ")
    return f"{number if tail and last.endswith(f' {tail}') else first} to {last}"


def digits(figure: Figure) -> int:
    """Return how many digits of a figure its interval tells, one more for the interval's sake."""
    if not (isinstance(figure.value, float) and _is_sure(figure.low) and _is_sure(figure.high)):
        return _FEWEST
    half = (figure.high - figure.low) / 2
    if not 0 < half < abs(figure.value):
        return _FEWEST
    sure = math.ceil(math.log10(abs(figure.value)) - math.log10(half)) + 1
    return min(max(sure, _FEWEST), _MOST)


def _is_sure(end: float | None) -> TypeGuard[float]:
    """Return whether an interval ends somewhere on this side."""
    return end is not None and math.isfinite(end)
