"""The point of the resistor method: what drives it, and the lead and input that read it.

The output drives the point through a resistor, a lead takes it to the instrument input, and what is
tested hangs on it beside that. The loop is the same with the resistor bridged, so that
`T = (1 + Ro·Y0)/(1 + (Rs + Ro)·Yp)`: what is tested follows without knowing lead or input.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.errors import SigsimError, shown_path
from sigsim.items.inputs import Input
from sigsim.measure.figures import plain, reciprocal, rests_on
from sigsim.measure.observed import HIGHEST, LOWEST, Observed, observe
from sigsim.measure.unknowns import Unknown, told
from sigsim.units import Quantity, render

if TYPE_CHECKING:
    from sigsim.measure.known import Known
    from sigsim.measure.response import Ratio
    from sigsim.measure.result import Assumed, Figure
    from sigsim.measure.solving import Solved
    from sigsim.measure.unknowns import Values
    from sigsim.physics.arrays import ComplexArray, FloatArray, Impedance

    # From values and jω [rad/s] to the admittance [S] of what is tested.
    Thing = Callable[[Values, ComplexArray], Impedance]

# What the wiring asks for [Ω], and what is printed on most of them.
_RESISTOR: Final = 100e3
RESISTOR_TOLERANCE: Final = 0.01
_OUTPUT: Final = Quantity(150.0, 1.0)
# What an instrument input and a lead are, with room to spare [Ω].
LEAST_INPUT, _MOST_INPUT = 0.3e6, 5e6
_INPUT_OFF: Final = 0.2
# Nothing passive makes a lower part of the band louder than this, but for rounding [ln].
_LOUDER: Final = 0.006
# Below a coil's resonance with any lead [Hz].
_BELOW: Final = 1000.0
# Where capacitances show [Hz].
_ABOVE: Final = 3000.0
_CAUSES: Final = (
    "another resistor than said, a line instead of an instrument input, a knob or pad moved after "
    "the loop, direct monitoring on, a recording of something else"
)


@dataclass(frozen=True)
class Point:
    """What is known of the point before anything is fitted.

    Attributes
    ----------
    resistor : [Ω], with its tolerance
    output : resistance of the output that drives it [Ω], with its tolerance
    assumed : both, as the result shows them
    expected : resistance of the interface's input [Ω], None if it was not said
    """

    resistor: Quantity
    output: Quantity
    assumed: Mapping[str, Assumed]
    expected: Quantity | None

    def unknowns(self) -> tuple[Unknown, ...]:
        """Return what a fit has to find of the point."""
        return (
            told("resistor", self.resistor),
            told("output", self.output),
            Unknown("point_conductance", 1e-6, 1e-9, 2e-3, False, 1e-7),
            Unknown("point_capacitance", 400e-12, 1e-12, 50e-9),
            # The insulation of a lead loses up to some per cent.
            Unknown("point_tangent", 0.01, -0.1, 0.1, False, 0.01, 0.0, 0.02),
            # One over the capacitor before the input [1/F]: none, or some tens of nanofarads.
            Unknown("point_elastance", 1e5, 1.0, 1e9, False, 1e7),
        )

    def starts(self, before: Ratio) -> Mapping[str, float]:
        """Return where the search begins, from how much the empty point takes."""
        Rs = float(self.resistor.value)
        f, level = before.frequency, np.abs(before.T)
        low = (f > f[0]) & (f < 20 * f[0])
        share = float(np.median(level[low])) if np.any(low) else 0.9
        G = min(max((1 / share - 1) / Rs, 2e-9), 1e-3)
        # Where the level is 3 dB below that the capacitance takes as much as all the rest.
        corner = f[level < share / np.sqrt(2)]
        C = (1 / Rs + G) / (2 * np.pi * float(corner[0] if corner.size else f[-1]))
        return {"point_conductance": G, "point_capacitance": min(max(C, 2e-12), 2e-8)}

    def empty(self, ratio: Ratio) -> Observed:
        """Return the ratio of the point with nothing on it."""
        return observe(ratio, lambda v, jw: _ratio(v, jw, 0.0))

    def loaded(self, ratio: Ratio, thing: Thing) -> Observed:
        """Return the ratio of the point with something on it."""
        return observe(ratio, lambda v, jw: _ratio(v, jw, thing(v, jw)))

    def figures(self, solved: Solved) -> Mapping[str, Figure]:
        """Return the figures of the point, by key.

        Raises
        ------
        SigsimError : no instrument input is like this
        """
        R = reciprocal(solved, "point_conductance", "Ω")
        self._possible(R)
        C = plain(solved, "point_capacitance", "F")
        return {"input_resistance": R, "input_capacitance": C}

    def _possible(self, R: Figure) -> None:
        least, most = LEAST_INPUT, _MOST_INPUT
        if self.expected is not None:
            off = max(_INPUT_OFF, self.expected.tolerance)
            least, most = ((1 + s * off) * self.expected.value for s in (-1, 1))
        found = R.value if isinstance(R.value, float) else R.low
        if found is None or (least <= found <= most):
            return
        raise SigsimError(
            f"the input that reads the point cannot be what was measured; likely: {_CAUSES}",
            where="--before",
            found=f"{'' if R.value else 'more than '}{render(found, 'Ω')}",
            accepted=f"{render(least, 'Ω')} to {render(most, 'Ω')}",
        )


def point(known: Known) -> Point:
    """Return the point as it was told."""
    resistor = known.resistor or Quantity(_RESISTOR)
    if not resistor.tolerance:
        resistor = Quantity(resistor.value, RESISTOR_TOLERANCE)
    output = known.output_resistance or _OUTPUT
    assumed = {
        "resistor": rests_on(resistor, "Ω", given=known.resistor is not None),
        "output_resistance": rests_on(output, "Ω", given=known.output_resistance is not None),
    }
    return Point(resistor, output, assumed, known.interface_input)


def _ratio(v: Values, jw: ComplexArray, Y: Impedance) -> ComplexArray:
    Y0 = Input(
        1 / v["point_conductance"],
        v["point_capacitance"] * (1 - 1j * v["point_tangent"]),
        1 / v["point_elastance"],
    ).load(jw).Y  # fmt: skip
    Ro = v["output"]
    ratio: ComplexArray = (1 + Ro * Y0) / (1 + (v["resistor"] + Ro) * (Y0 + Y))
    return ratio


def refuse_swapped(before: Ratio, thing: Ratio, *, coil: bool = False) -> None:
    """Refuse recordings of which one is louder than nothing passive makes it.

    Parameters
    ----------
    before, thing : over the loop: with the third socket empty, and with the thing in it
    coil : whether the thing may resonate with the lead, and be louder there

    Raises
    ------
    SigsimError : two of them were swapped
    """
    if max(loudness(before), loudness(before, top=True)) > _LOUDER:
        raise _swapped(before.name, "--before", "the loop", "--loop")
    level = np.interp(thing.frequency, before.frequency, level_of(before))
    if loudness(thing, level) > _LOUDER or (
        not coil and loudness(thing, level, top=True) > _LOUDER
    ):
        raise _swapped(thing.name, "--with", shown_path(before.name), "--before")


def loudness(ratio: Ratio, beside: Impedance = 0.0, *, top: bool = False) -> float:
    """Return the usual level [ln] of a ratio below 1 kHz, or above 3 kHz, beside another one."""
    f = ratio.frequency
    there = (f > _ABOVE) & (f <= HIGHEST) if top else (f < _BELOW) & (f >= LOWEST)
    return float(np.median((level_of(ratio) - beside)[there])) if np.any(there) else 0.0


def level_of(ratio: Ratio) -> FloatArray:
    """Return the level [ln] of a ratio."""
    return np.asarray(np.log(np.maximum(np.abs(ratio.T), 1e-12)))


def _swapped(louder: str, role: str, quieter: str, its: str) -> SigsimError:
    return SigsimError(
        f"this is louder than {quieter} ({its}), and a part without a battery makes "
        f"nothing louder: two recordings are swapped, or a knob was moved between them",
        where=f"{shown_path(louder)} ({role})",
    )
