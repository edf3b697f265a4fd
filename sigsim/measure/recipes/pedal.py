"""A box: its input while it is on, and what it hangs on the line while it is off."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final

from sigsim.errors import SigsimError, quote
from sigsim.items.base import bypassed
from sigsim.items.stage import BYPASSES
from sigsim.measure.figures import plain
from sigsim.measure.inside import Inside, look_inside, most_of
from sigsim.measure.plugged import nothing_shows, refuse_bridged, refuse_nothing
from sigsim.measure.point import Point, point, refuse_swapped
from sigsim.measure.recipes.found import found
from sigsim.measure.result import Figure
from sigsim.measure.solving import Solved, solve
from sigsim.measure.strained import believed
from sigsim.measure.unknowns import Unknown
from sigsim.units import render

if TYPE_CHECKING:
    from sigsim.measure.known import Known
    from sigsim.measure.response import Ratio
    from sigsim.measure.result import Measured
    from sigsim.measure.unknowns import Values
    from sigsim.physics.arrays import ComplexArray, Impedance

# No input of a pedal that is there is beyond this [Ω].
_NO_INPUT: Final = 2e6
_LARGER: Final = (
    "The input has more than this resistor can tell. Use one of 1 MΩ, and say so by --resistor."
)
_NOTHING: Final = (
    "--with is the same as --before: not half a picofarad shows, and a box with its jacks has "
    "some. See that the box was plugged in."
)
_WHICH: Final = (
    "Something with a resistance hangs on the line while the box is off. If these figures are "
    "those that `measure input` found while it is on, its bypass is hardwire, otherwise buffered: "
    "say --bypass hardwire or --bypass buffered."
)


def fit_input(ratios: Mapping[str, Sequence[Ratio]], known: Known) -> Measured:
    """Return the input of a pedal that is on.

    Parameters
    ----------
    ratios : `before` and `with`, each over the loop
    known : what the user said
    """
    refuse_nothing(ratios["before"][0], ratios["with"][0], "the pedal")
    here, inside = _measured(ratios, known)
    figures = {"input_resistance": inside.R, "input_capacitance": inside.C, **inside.extra}
    notes = [_LARGER] if inside.R.value is None and here.resistor.value < 0.9e6 else []
    return found(
        "input", inside.solved, figures, point=here.figures(inside.solved),
        assumed=here.assumed, notes=notes,
    )  # fmt: skip


def fit_bypass(ratios: Mapping[str, Sequence[Ratio]], known: Known) -> Measured:
    """Return what a box that is off hangs on the line, its output free.

    Parameters
    ----------
    ratios : `before` and `with`, each over the loop
    known : what the user said

    Raises
    ------
    SigsimError : the bypass that was chosen is not what was measured
    """
    here, inside = _measured(ratios, known)
    chosen = _word(known.bypass)
    solved, notes = inside.solved, []
    least = inside.R.low or 0.0
    if chosen == "true" and most_of(inside.R) < _NO_INPUT:
        raise SigsimError(
            "a true bypass has no resistance to ground, and one was measured",
            where="--bypass",
            found=f"{quote(chosen)}, with less than {render(most_of(inside.R), 'Ω')}",
            accepted='"hardwire" or "buffered"',
        )
    if chosen == "true" or (chosen is None and least > _NO_INPUT):
        solved = _wired(here, ratios)
        figures = _mechanical(solved)
    else:
        figures = _of_a_circuit(inside, chosen)
        notes = [_WHICH] if chosen is None else []
    if nothing_shows(ratios["before"][0], ratios["with"][0]):
        notes = [*notes, _NOTHING]
    return found(
        "bypass", solved, figures, point=here.figures(solved), assumed=here.assumed, notes=notes
    )


def _measured(ratios: Mapping[str, Sequence[Ratio]], known: Known) -> tuple[Point, Inside]:
    here, before, thing = point(known), ratios["before"][0], ratios["with"][0]
    refuse_bridged(before, here)
    refuse_swapped(before, thing)
    return here, look_inside(here, before, thing)


def _word(bypass: str | None) -> str | None:
    if bypass is None or bypass in BYPASSES:
        return bypass
    from sigsim.errors import nearest

    raise SigsimError(
        "there is no bypass of this name", where="--bypass", found=quote(bypass),
        accepted=", ".join(map(quote, BYPASSES)), nearest=nearest(bypass, BYPASSES),
    )  # fmt: skip


def _wired(here: Point, ratios: Mapping[str, Sequence[Ratio]]) -> Solved:
    """Fit the wiring of a mechanical bypass: what its contact has does not show beside it."""
    before, thing = ratios["before"][0], ratios["with"][0]
    unknowns = (*here.unknowns(), Unknown("wiring", 50e-12, 0.0, 20e-9, False, 10e-12))
    observed = [here.empty(before), here.loaded(thing, _off)]
    start = here.starts(before)
    starts = [{**start, "wiring": C} for C in (10e-12, 100e-12, 1e-9)]
    return believed(solve(unknowns, observed, starts))


def _off(v: Values, jw: ComplexArray) -> Impedance:
    """Return the admittance [S] of a mechanical bypass with nothing at its output."""
    return bypassed(jw, v.get("contact", 0.0), v["wiring"]).admittance(0.0)


def _mechanical(wired: Solved) -> dict[str, Figure]:
    contact = Unknown("contact", 0.0, 0.0, 10e6, False, 1e3)
    begun = {**wired.start(), "contact": 1.0}
    bound = plain(solve((*wired.circuit, contact), wired.observed, [begun]), "contact", "Ω")
    return {
        "wiring_capacitance": plain(wired, "wiring", "F"),
        "bypass": Figure("true", None, None, ""),
        "contact_resistance": Figure(None, None, bound.high, "Ω"),
    }


def _of_a_circuit(inside: Inside, chosen: str | None) -> dict[str, Figure]:
    """Return the figures of an input that is there while the box is off."""
    # A hardwire bypass is the input that is there when on; a buffered one may be another.
    of = "" if chosen == "hardwire" else "bypass_"
    figures = {f"{of}input_resistance": inside.R, f"{of}input_capacitance": inside.C}
    for key, figure in inside.extra.items():
        # A buffer of a bypass has no stopper in a board file.
        if not of or key != "input_series_resistance":
            figures[f"{of}{key}"] = figure
    if chosen is not None:
        figures["bypass"] = Figure(chosen, None, None, "")
    return figures
