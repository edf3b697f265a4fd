"""What an input is made of: as many parts as show, and no more.

A resistance and a capacitance are always looked for; a capacitor in series before them and a
stopper only where the recordings are better explained with it, and say how large it is.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from sigsim.items.inputs import Input
from sigsim.measure.figures import half_width, plain, reciprocal
from sigsim.measure.result import Figure
from sigsim.measure.solving import Solved, gained, promised, solve
from sigsim.measure.strained import believed
from sigsim.measure.unknowns import Unknown

if TYPE_CHECKING:
    from sigsim.measure.point import Point
    from sigsim.measure.response import Ratio
    from sigsim.measure.unknowns import Values
    from sigsim.physics.arrays import ComplexArray, Impedance

# A part shows where it takes this much off the sum of squares (one in a thousand by chance: the
# 0.999 quantile of chi-squared with one degree of freedom) and its interval is not wider.
_SHOWS, _WIDEST = 10.83, 0.3
# Twenty times the resistor is a bound and no figure any more.
_BEYOND: Final = 20.0

_ALWAYS: Final = (
    Unknown("conductance", 2e-6, 0.0, 1e-2, False, 1e-7),
    Unknown("capacitance", 100e-12, 0.0, 20e-9, False, 10e-12),
)
# One over the capacitor [1/F], and the stopper [Ω].
_CAPACITOR: Final = Unknown("elastance", 1e7, 0.0, 1e10, False, 1e6)
_STOPPER: Final = Unknown("stopper", 5e3, 0.0, 1e6, False, 1e3)
_NONE: Final = 1e-3
_LEAST: Final = 1e-13


@dataclass(frozen=True, eq=False)
class Inside:
    """An input as it was found.

    Attributes
    ----------
    solved : with the parts that show
    R, C : its figures [Ω], [F]
    extra : figures of the parts that show, by key
    """

    solved: Solved
    R: Figure
    C: Figure
    extra: Mapping[str, Figure]


def look_inside(here: Point, before: Ratio, thing: Ratio) -> Inside:
    """Return the input that was put on a point.

    Parameters
    ----------
    here : the point
    before, thing : over the loop: with nothing on it, and with the input
    """
    observed = [here.empty(before), here.loaded(thing, _admittance)]
    start = here.starts(before)
    starts = [
        {**start, "conductance": G, "capacitance": C}
        for G, C in ((1e-6, 50e-12), (2e-6, 500e-12), (2e-5, 200e-12))
    ]
    chosen = solve((*here.unknowns(), *_ALWAYS), observed, starts)
    # A second look for the capacitor: what a stopper explains may have hidden it.
    for part in (_CAPACITOR, _STOPPER, _CAPACITOR):
        if part not in chosen.circuit:
            chosen = with_part(chosen, part, starts)
    chosen = believed(chosen)
    Rs = float(here.resistor.value)
    extra = {}
    for name, key in (("elastance", "input_capacitor"), ("stopper", "input_series_resistance")):
        if any(u.name == name for u in chosen.unknowns):
            extra[key] = (
                reciprocal(chosen, name, "F") if name == "elastance" else plain(chosen, name, "Ω")
            )
    return Inside(
        chosen,
        reciprocal(chosen, "conductance", "Ω", _BEYOND * Rs),
        plain(chosen, "capacitance", "F"),
        extra,
    )


def with_part(smaller: Solved, part: Unknown, starts: Sequence[Mapping[str, float]]) -> Solved:
    """Return a fit with one more part where that shows, otherwise the fit without it.

    Parameters
    ----------
    smaller : without the part
    part : none of it at its lower bound
    starts : where searches begin, for the other unknowns; some sizes of the part are tried
    """
    # Far from the truth linear theory promises nothing that could be relied on.
    if smaller.explains and promised(smaller, part) < _SHOWS:
        return smaller
    sizes = [part.scale * times for times in (1.0, 10.0, 100.0)]
    begun = [{**s, part.name: size} for s in (smaller.start(), *starts) for size in sizes]
    larger = solve((*smaller.circuit, part), smaller.observed, begun)
    shows = half_width(plain(larger, part.name, "")) <= _WIDEST
    return larger if shows and gained(smaller, larger) > _SHOWS else smaller


def _admittance(v: Values, jw: ComplexArray) -> Impedance:
    """Return the admittance [S] of the input."""
    capacitor = 1 / (v["elastance"] + _NONE) if "elastance" in v else None
    R = 1 / (v["conductance"] + _LEAST)
    return Input(R, v["capacitance"], capacitor, v.get("stopper", 0.0)).load(jw).Y


def most_of(figure: Figure) -> float:
    """Return the most a figure can be; infinite where only its lower bound is told."""
    return math.inf if figure.high is None else figure.high
