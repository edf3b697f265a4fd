"""A pickup: by a resistor at its jack, or by an exciter and known loads."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.errors import SigsimError
from sigsim.items.inputs import Input
from sigsim.measure.coil import Pickup, pickup
from sigsim.measure.coil_limits import refuse_no_coil
from sigsim.measure.figures import rests_on
from sigsim.measure.observed import Observed, observe
from sigsim.measure.plugged import refuse_bridged, refuse_nothing, refuse_unloaded, refuse_unturned
from sigsim.measure.point import point, refuse_swapped
from sigsim.measure.pot import with_pot_if_shown
from sigsim.measure.recipes.found import found
from sigsim.measure.solving import solve
from sigsim.measure.strained import believed
from sigsim.measure.unknowns import Unknown, told
from sigsim.units import Quantity

if TYPE_CHECKING:
    from sigsim.measure.known import Across, Known
    from sigsim.measure.response import Ratio
    from sigsim.measure.result import Assumed, Measured
    from sigsim.measure.solving import Solved
    from sigsim.measure.unknowns import Values
    from sigsim.physics.arrays import ComplexArray, Impedance

_LOAD_TOLERANCE: Final = 0.01
# An instrument input with a lead of a few metres, where nothing was said.
_PROBE_R, _PROBE_C = Quantity(1e6, 0.2), Quantity(500e-12, 0.5)
# A table does not say where an exciter is too weak to be heard: below, little is induced, and above
# little is left behind a load [Hz].
_TABLE_LOW, _TABLE_HIGH = 100.0, 10e3
_UNSAID: Final = (
    "The probe (the interface's input and the lead) was not said; 1 MΩ with 500 pF were taken. "
    "What `measure input` prints for the point belongs into --probe: every picofarad of it that "
    "was not said is counted as the pickup's, or the other way round."
)


def fit_at_jack(ratios: Mapping[str, Sequence[Ratio]], known: Known) -> Measured:
    """Return the pickup whose jack was put on the point.

    Parameters
    ----------
    ratios : `before`, `with`, perhaps `half`, each over the loop
    known : what the user said
    """
    here = point(known)
    before, thing = ratios["before"][0], ratios["with"][0]
    refuse_bridged(before, here)
    refuse_swapped(before, thing, coil=True)
    refuse_nothing(before, thing, "the instrument")
    half = ratios.get("half", ())
    for turned in half:
        refuse_unturned(thing, turned)
    coil = pickup(known, half=bool(half), pot=True)
    observed = [
        here.empty(before),
        here.loaded(thing, lambda v, jw: 1 / coil.instrument(v).source(jw).Z),
        *(
            here.loaded(r, lambda v, jw: 1 / coil.instrument(v, half=True).source(jw).Z)
            for r in half
        ),
    ]
    starts = [{**here.starts(before), **start} for start in coil.starts()]
    solved = solve((*here.unknowns(), *coil.unknowns()), observed, starts)
    refuse_no_coil(coil.figures(solved), by_exciter=False)
    solved = believed(solved)
    figures, pairs = coil.figures(solved), coil.together(solved)
    return found(
        "pickup", solved, figures,
        point=here.figures(solved), assumed={**here.assumed, **coil.assumed}, pairs=pairs,
        notes=coil.notes(figures, pairs),
    )  # fmt: skip


def fit_by_exciter(ratios: Mapping[str, Sequence[Ratio]], known: Known) -> Measured:
    """Return the pickup that an exciter was held to.

    Parameters
    ----------
    ratios : `loaded`, each over `open`
    known : what the user said: loads in the order of the recordings

    Raises
    ------
    SigsimError : not one load for each recording
    """
    loaded = ratios["loaded"]
    if len(known.loads) != len(loaded):
        raise SigsimError(
            "each recording with a load needs its --load, in the same order",
            where="--loaded",
            found=f"{len(loaded)} and {len(known.loads)} loads",
        )
    for ratio in loaded:
        refuse_unloaded(ratio)
    coil = pickup(known, half=False, pot=False)
    bench = _Bench(coil, known)
    observed = [bench.observe(ratio, place) for place, ratio in enumerate(loaded)]

    def solved_as(coil: Pickup) -> Solved:
        bench.coil = coil
        return solve((*bench.unknowns, *coil.unknowns()), observed, coil.starts())

    said = []
    if known.volume_track is None:
        coil, solved, figures, note = with_pot_if_shown(coil, solved_as)
        said.append(note)
    else:
        solved = solved_as(coil)
        figures = coil.figures(solved)
    refuse_no_coil(figures, by_exciter=True)
    if (checked := believed(solved, "--open")) is not solved:
        solved, figures = checked, coil.figures(checked)
    pairs = coil.together(solved)
    notes = [*said, *coil.notes(figures, pairs), *([] if known.probe else [_UNSAID])]
    return found(
        "pickup", solved, figures,
        assumed={**coil.assumed, **bench.assumed}, pairs=pairs, notes=notes,
    )  # fmt: skip


class _Bench:
    """Probe and loads of the exciter method."""

    def __init__(self, coil: Pickup, known: Known) -> None:
        self.coil = coil
        self.unknowns: list[Unknown] = []
        self.assumed: dict[str, Assumed] = {}
        given = known.probe is not None
        R = known.probe.resistance if known.probe else _PROBE_R
        C = known.probe.capacitance if known.probe else _PROBE_C
        self.probe = self._input("probe", R, C, given=given)
        several = len(known.loads) > 1
        self.loads = [
            self._load(load, f"load_{i}" if several else "load")
            for i, load in enumerate(known.loads, 1)
        ]

    def _load(self, load: Across, name: str) -> _Across:
        R, C = (_usual(load.resistance), _usual(load.capacitance))
        return self._input(name, R, C, given=True)

    def _input(self, name: str, R: Quantity | None, C: Quantity | None, *, given: bool) -> _Across:
        names: list[str | None] = []
        for key, unit, quantity in (("resistance", "Ω", R), ("capacitance", "F", C)):
            if quantity is None or not float(quantity.value):
                names.append(None)
                continue
            self.unknowns.append(told(f"{name} {key}", quantity))
            self.assumed[f"{name}_{key}"] = rests_on(quantity, unit, given=given)
            names.append(f"{name} {key}")
        return _Across(*names)

    def observe(self, ratio: Ratio, place: int) -> Observed:
        """Return one loaded recording with the circuit that should explain it."""

        def predict(v: Values, jw: ComplexArray) -> ComplexArray:
            source = self.coil.instrument(v).source(jw)
            probe = self.probe.admittance(v, jw)
            loaded = source.into(probe + self.loads[place].admittance(v, jw))
            return np.asarray(loaded / source.into(probe))

        if ratio.sigma is None:
            return observe(ratio, predict, _TABLE_LOW, _TABLE_HIGH)
        return observe(ratio, predict)


class _Across:
    """A resistance and a capacitance across the line, by the names of their unknowns."""

    def __init__(self, resistance: str | None, capacitance: str | None) -> None:
        self._R, self._C = resistance, capacitance

    def admittance(self, v: Values, jw: ComplexArray) -> Impedance:
        """Return the admittance [S] at jω [rad/s]."""
        R = None if self._R is None else v[self._R]
        return Input(R, 0.0 if self._C is None else v[self._C]).load(jw).Y


def _usual(quantity: Quantity | None) -> Quantity | None:
    """Return a part of the shop with the tolerance that it has if none was said."""
    if quantity is None or quantity.tolerance:
        return quantity
    return Quantity(quantity.value, _LOAD_TOLERANCE)
