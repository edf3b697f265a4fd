"""A cable: its capacitance, and what its insulation loses."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final

from sigsim.items.cable import Cable, CableSpec
from sigsim.measure.figures import combined, plain, rests_on
from sigsim.measure.leak import LEAK, refuse_leak
from sigsim.measure.plugged import refuse_bridged, refuse_nothing
from sigsim.measure.point import point, refuse_swapped
from sigsim.measure.recipes.found import found
from sigsim.measure.solving import solve
from sigsim.measure.strained import believed
from sigsim.measure.unknowns import Unknown, told
from sigsim.units import Quantity, render

if TYPE_CHECKING:
    from sigsim.measure.known import Known
    from sigsim.measure.response import Ratio
    from sigsim.measure.result import Assumed, Figure, Measured
    from sigsim.measure.unknowns import Values
    from sigsim.physics.arrays import ComplexArray, Impedance

# What a plug may have where nothing was said [F].
_PLUG_WITHIN: Final = 10e-12
# Beyond these a length is in doubt [F/m]: cables have 50 to 200 pF/m.
_PER_METRE: Final = (30e-12, 300e-12)
_UNSEEN: Final = (
    "Resistance and inductance of a cable do not show this way; they are left as they were."
)
_NO_LENGTH: Final = (
    "Without --length the capacitance is that of the whole cable; per metre it is not known."
)
_PLUGS: Final = (
    "The plugs count as cable. Give --plug-capacitance if you know what one has: up to 10 pF each "
    "are in the interval of the capacitance per metre."
)


def fit_cable(ratios: Mapping[str, Sequence[Ratio]], known: Known) -> Measured:
    """Return the cable that was put on the point, its far end free.

    Parameters
    ----------
    ratios : `before` and `with`, each over the loop
    known : what the user said
    """
    here = point(known)
    before, thing = ratios["before"][0], ratios["with"][0]
    refuse_bridged(before, here)
    refuse_swapped(before, thing)
    refuse_nothing(before, thing, "the cable")
    observed = [here.empty(before), here.loaded(thing, _open_end)]
    plug = known.plug_capacitance
    unknowns = (
        *here.unknowns(),
        Unknown("total", 500e-12, 1e-12, 100e-9),
        Unknown("tangent", 0.01, 0.0, 1.0, False, 0.01),
        _length(known),
        told("plug", plug or Quantity(0.0), within=None if plug else _PLUG_WITHIN),
    )
    start = here.starts(before)
    starts = [{**start, "total": total} for total in (100e-12, 500e-12, 2e-9)]
    solved = solve(unknowns, observed, starts)
    refuse_leak(solved, starts)
    solved = believed(solved)
    figures: dict[str, Figure] = {"total_capacitance": plain(solved, "total", "F")}
    notes = [_UNSEEN]
    if known.length is not None:
        figures["capacitance"] = combined(
            solved, lambda v: (v["total"] - 2 * v["plug"]) / v["length"], "F/m"
        )
        notes += [] if plug else [_PLUGS]
        notes += _doubts(figures["capacitance"])
    else:
        notes.append(_NO_LENGTH)
    figures["loss_tangent"] = plain(solved, "tangent", "")
    return found(
        "cable", solved, figures, point=here.figures(solved),
        assumed={**here.assumed, **_assumed(known)}, notes=notes,
    )  # fmt: skip


def _doubts(figure: Figure) -> list[str]:
    """Return what is to be said of a capacitance per metre that hardly any cable has."""
    low, high = _PER_METRE
    if not isinstance(figure.value, float) or low <= figure.value <= high:
        return []
    return [
        f"{render(figure.value, 'F/m', 2)} is unusual: cables have 50 to 200 pF/m. See that "
        "--length is that of this cable, in the right unit."
    ]


def _length(known: Known) -> Unknown:
    return told("length", known.length or Quantity(1.0))


def _open_end(v: Values, jw: ComplexArray) -> Impedance:
    """Return the admittance [S] of the cable with nothing at its far end."""
    spec = CableSpec(
        capacitance=(v["total"] - 2 * v["plug"]) / v["length"],
        plug_capacitance=v["plug"],
        loss_tangent=v["tangent"],
    )
    end = v.get(LEAK, 0.0)
    return Cable(cable="", length=v["length"], spec=spec).step(jw, True).admittance(end)


def _assumed(known: Known) -> dict[str, Assumed]:
    told = (("length", "m"), ("plug_capacitance", "F"))
    return {
        option: rests_on(quantity, unit, given=True)
        for option, unit in told
        if (quantity := getattr(known, option)) is not None
    }
