"""Figures that were measured as lines of a board file, each with its tolerance."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from sigsim.errors import QuantityError
from sigsim.items.cable import CableSpec
from sigsim.items.destination import Destination
from sigsim.items.fields import MEASURED, Spec, specs
from sigsim.items.instrument import ActiveInstrument, PassiveInstrument, Pickup
from sigsim.items.needs import idle
from sigsim.items.stage import ActiveStage
from sigsim.quantities import KINDS
from sigsim.show.figures import figure_text, is_open, value_text
from sigsim.units import parse, render

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from typing import Any

    from sigsim.measure.result import Figure, Measured

# Whole percents are enough from here on, tenths below.
_WHOLE: Final = 10.0
_FEWEST_DIGITS, _MOST_DIGITS = 2, 7
# A figure is rounded to a step of at most this part of half its interval.
_STEP: Final = 0.2
_WITH_WIRING: Final = "   # with the wiring to the jack: no wiring_capacitance beside it"
_BARE_KEY: Final = re.compile(r"[A-Za-z0-9_-]+")
_TABLES: Final = {
    "cable": CableSpec,
    "pickup": PassiveInstrument,
    "input": ActiveStage,
    "bypass": ActiveStage,
    "output": ActiveStage,
}
_SECTIONS: Final = {
    ("pickup", "instrument"): PassiveInstrument,
    ("output", "instrument"): ActiveInstrument,
    ("input", "destination"): Destination,
}


@dataclass(frozen=True)
class Line:
    """One figure as a board file has it.

    Attributes
    ----------
    text : between quotation marks, with its tolerance
    value : that one reads there [SI unit], or a word
    """

    text: str
    value: float | str


def today() -> str:
    """Return this day as a board file has it."""
    from datetime import date

    return date.today().isoformat()


def written(figures: Mapping[str, Figure], item: type) -> dict[str, Line]:
    """Return those figures that a table can hold, by key.

    Parameters
    ----------
    figures : by key; one of which only a bound is known is left out
    item : the class that is made of the table
    """
    known = specs(item)
    found = {key: _line(figure, known[key]) for key, figure in figures.items() if key in known}
    return {key: line for key, line in found.items() if line is not None}


def counted_apart(measured: Measured, item: type) -> dict[str, str]:
    """Return what counts beside the capacitance that was measured, and must not count twice.

    A pickup is measured with the wiring to its jack, a cable without what was taken off for its
    plugs.

    Parameters
    ----------
    measured : what a recipe found
    item : the class that is made of the table

    Returns
    -------
    by key what the file is to say, empty for nothing
    """
    figure = measured.figures.get("capacitance")
    if figure is None or figure.value is None:
        return {}
    if item is PassiveInstrument:
        return {"wiring_capacitance": ""}
    plugs = measured.assumed.get("plug_capacitance")
    if item is not CableSpec or plugs is None:
        return {}
    about = f" ± {100 * plugs.tolerance:.3g} %" if plugs.tolerance else ""
    each = f"{render(plugs.value, plugs.unit, 4)}{about}" if plugs.value > 0 else ""
    return {"plug_capacitance": each}


def toml(measured: Measured, name: str | None) -> str:
    """Return the figures as the table of a board file, ready to copy.

    Parameters
    ----------
    measured : what a recipe found
    name : of the cable, pedal or pickup, or "instrument" or "destination"; None for one of ours

    Returns
    -------
    lines; what cannot stand in such a table is a comment
    """
    item = _SECTIONS.get((measured.recipe, name or ""), _TABLES[measured.recipe])
    if measured.recipe == "pickup" and name not in (None, "instrument"):
        item = Pickup
    lines = written(measured.figures, item)
    unheard = idle(item, {key: line.value for key, line in lines.items()}, _BESIDE.get(item, {}))
    made = [*_header(item, name)]
    for key, figure in measured.figures.items():
        if key not in specs(item):
            continue
        if key not in lines:
            made.append(f"# {key}: {_bound(figure)}")
        elif key in unheard:
            need = unheard[key].said
            made.append(f"# {key} = {quoted(lines[key].text)}   # counts only with {need}")
        else:
            remark = _WITH_WIRING if item is PassiveInstrument and key == "capacitance" else ""
            made.append(f"{key} = {quoted(lines[key].text)}{remark}")
    counted = counted_apart(measured, item)
    made += [f"{key} = {quoted(text)}" for key, text in counted.items() if text]
    if lines.keys() - unheard.keys():
        made.append(f"{MEASURED} = {quoted(today())}")
    return "".join(f"{line}\n" for line in made)


_BESIDE: Final[Mapping[type, Mapping[str, Any]]] = {Pickup: {"pickups_wiring": "parallel"}}


def quoted(text: str) -> str:
    """Return text as a string of TOML, whatever is in it."""
    if text.isprintable() and not set(text) & set('"\\'):
        return f'"{text}"'
    import tomlkit

    return tomlkit.item(text).as_string()


def value_said(value: Any, spec: Spec) -> str:
    """Return a value that is not in the file as a person reads it."""
    kind = KINDS.get(spec.kind)
    return quoted(str(value)) if kind is None else render(float(value), kind.symbol)


def _header(item: type, name: str | None) -> Iterator[str]:
    if item is CableSpec:
        called = name or "mine"
        key = called if _BARE_KEY.fullmatch(called) else quoted(called)
        yield f"[cables.{key}]"
    elif item is Pickup:
        yield from ("[[instrument.pickups]]", f"name = {quoted(name or '')}")
    elif item is Destination:
        yield "[destination]"
    elif item is ActiveStage:
        yield from ("[[chain]]", f"stage = {quoted(name or 'mine')}")
    else:
        yield "[instrument]"
        if item is ActiveInstrument:
            yield 'type = "active"'


def _line(figure: Figure, spec: Spec) -> Line | None:
    """Return a figure as a file has it, None where that cannot be read back."""
    if isinstance(figure.value, str):
        return Line(figure.value, figure.value) if figure.value in spec.choices else None
    if figure.value is None or not math.isfinite(figure.value) or spec.kind not in KINDS:
        return None
    if is_open(figure):
        return None
    if not figure.low and not spec.above_zero and value_text(figure.value, figure.unit) == "0":
        return Line("0", 0.0)
    near, far = _reach(figure, figure.value)
    digits = _digits(figure.value, near)
    for text in _spellings(figure.value, figure.unit, digits):
        try:
            value = parse(text, spec.kind, above_zero=spec.above_zero, most=spec.most).value
        except QuantityError:
            continue
        percent = _percent(far + abs(value - figure.value), value)
        return Line(f"{text} ± {percent:g} %" if percent else text, float(value))
    return None


def _reach(figure: Figure, value: float) -> tuple[float, float]:
    """Return how far the nearer and the farther end of the interval are [`unit`]."""
    ends = [abs(end - value) for end in (figure.low, figure.high) if end is not None]
    return (min(ends), max(ends)) if ends else (0.0, 0.0)


def _digits(value: float, reach: float) -> int:
    """Return how many digits of a number its interval leaves worth telling."""
    if not value or not reach:
        return _MOST_DIGITS
    digits = math.floor(math.log10(abs(value))) - math.floor(math.log10(_STEP * reach)) + 1
    return max(_FEWEST_DIGITS, min(_MOST_DIGITS, digits))


def _spellings(value: float, unit: str, digits: int) -> Iterator[str]:
    """Yield a number with its unit: with a prefix where it has one, and as it is."""
    if unit:
        yield render(value, unit, digits)
    yield f"{value:.{digits}g} {unit}".strip()


def _percent(reach: float, value: float) -> float:
    """Return a tolerance, rounded up so that it holds the interval; 0 where there is none."""
    if not value or not reach:
        return 0.0
    percent = 100 * reach / abs(value)
    step = 1.0 if percent > _WHOLE else 0.1
    # What is above a step by rounding only is on it.
    return min(100.0, round(max(1, math.ceil(percent / step - 1e-9)) * step, 1))


def _bound(figure: Figure) -> str:
    """Say what is known of a figure that has no value."""
    if is_open(figure):
        return figure_text(figure)
    low, high = (
        None if end is None else value_text(end, figure.unit) for end in (figure.low, figure.high)
    )
    if low and high:
        return f"between {low} and {high}"
    return f"at least {low}" if low else f"at most {high}" if high else "not told"
