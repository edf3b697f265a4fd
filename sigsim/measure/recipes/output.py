"""An output: its resistance, by what a load across it takes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.errors import SigsimError, shown_path
from sigsim.items.inputs import Input
from sigsim.items.stage import Output
from sigsim.measure.figures import plain, reciprocal, rests_on
from sigsim.measure.inside import with_part
from sigsim.measure.observed import observe
from sigsim.measure.point import loudness
from sigsim.measure.recipes.found import found
from sigsim.measure.solving import Solved, solve
from sigsim.measure.unknowns import Unknown, told
from sigsim.physics.source import Source
from sigsim.units import Quantity, render

if TYPE_CHECKING:
    from sigsim.measure.known import Known
    from sigsim.measure.response import Ratio
    from sigsim.measure.result import Measured
    from sigsim.measure.unknowns import Values
    from sigsim.physics.arrays import ComplexArray, Impedance

_INPUT_R, _INPUT_C = Quantity(1e6, 0.5), Quantity(500e-12, 1.0)
_LOAD_TOLERANCE: Final = 0.01
# From here on another load tells more.
_FAR: Final = 10.0
# Below this part of a load next to nothing of it shows: 0.01 dB, which is a gain that drifts.
_HARDLY: Final = 1e-3
_UNLOADED: Final = (
    "The load changes next to nothing: see that it was plugged in. If it was, the output has far "
    "less than the load."
)
_LOUDER: Final = 0.006
_NONE: Final = 1e-3


def fit_output(ratios: Mapping[str, Sequence[Ratio]], known: Known) -> Measured:
    """Return the output that was recorded without and with a load across it.

    Parameters
    ----------
    ratios : `with`, over `before`
    known : what the user said

    Raises
    ------
    SigsimError : not one resistor as load, or the two recordings are swapped
    """
    ratio, load = ratios["with"][0], _load(known)
    if loudness(ratio) > _LOUDER:
        raise SigsimError(
            "the output is louder with the load than without: --before and --with are swapped, or "
            "a knob was moved between them",
            where=f"{shown_path(ratio.name)} (--with)",
        )
    input_R = known.interface_input or _INPUT_R
    unknowns = (
        Unknown("resistance", 1e3, 1e-3, 1e7, False, 100.0),
        told("load", load),
        told("input resistance", input_R),
        told("input capacitance", _INPUT_C),
    )
    # A moved knob is not looked for: it acts as another resistance of the output would.
    solved = _solved(unknowns, ratio, float(load.value))
    figures = {"output_resistance": plain(solved, "resistance", "Ω")}
    if any(u.name == "elastance" for u in solved.unknowns):
        figures["output_capacitor"] = reciprocal(solved, "elastance", "F")
    assumed = {
        "load": rests_on(load, "Ω", given=True),
        "interface_input": rests_on(input_R, "Ω", given=known.interface_input is not None),
    }
    return found("output", solved, figures, assumed=assumed, notes=_notes(solved, load))


def _solved(unknowns: Sequence[Unknown], ratio: Ratio, load: float) -> Solved:
    """Fit the output, with a capacitor where that shows."""
    observed = [observe(ratio, _predicted)]
    starts = [{"resistance": load * times} for times in (0.01, 0.1, 1.0, 10.0)]
    plainly = solve(unknowns, observed, starts)
    return with_part(plainly, Unknown("elastance", 1e5, 0.0, 1e9, False, 1e5), starts)


def _predicted(v: Values, jw: ComplexArray) -> ComplexArray:
    C = 1 / (v["elastance"] + _NONE) if "elastance" in v else None
    source = Source(1.0 + 0j, Output(v["resistance"], C).impedance(jw))
    Y: Impedance = Input(v["input resistance"], v["input capacitance"]).load(jw).Y
    return np.asarray(source.into(Y + 1 / v["load"]) / source.into(Y))


def _load(known: Known) -> Quantity:
    given = [load.resistance for load in known.loads if load.resistance is not None]
    if len(given) != 1 or len(known.loads) != 1 or known.loads[0].capacitance is not None:
        raise SigsimError(
            "one resistor is needed that lies across the output in the recording --with",
            where="--load",
            accepted='such as "1 kΩ ± 1 %"',
        )
    load = given[0]
    return load if load.tolerance else Quantity(load.value, _LOAD_TOLERANCE)


def _notes(solved: Solved, load: Quantity) -> list[str]:
    R = solved.value("resistance")
    if 1 / _FAR <= R / float(load.value) <= _FAR:
        return []
    if R / float(load.value) < _HARDLY:
        return [_UNLOADED]
    return [
        f"The load is far from the output's own resistance. One of about {render(R, 'Ω', 1)} "
        f"tells it best, if the output stands it."
    ]
