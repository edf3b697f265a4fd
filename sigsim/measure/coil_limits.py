"""Whether what was found can be the coil of a pickup at all."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from sigsim.errors import SigsimError
from sigsim.units import render

if TYPE_CHECKING:
    from collections.abc import Mapping

    from sigsim.measure.result import Figure

# From a few turns under a transformer to twice the largest coils that are sold, and beyond what any
# search that lost its way comes back from.
_LIMITS: Final = {"resistance": (20.0, 150e3), "inductance": (5e-3, 100.0)}
# An ordinary coil has 5 to 20 kΩ; a volume knob that is not at 10 looks like one of more [Ω].
_UNUSUAL: Final = 50e3
# Winding, wiring and jack have some hundred picofarads [F].
_UNUSUAL_C: Final = 1.5e-9
_BY_RESISTOR: Final = (
    "--with is of something else (a pedal's input, a cable, a box that is off), the instrument is "
    "active, or a knob was moved after --before"
)
_BY_EXCITER: Final = (
    "a --load is not what it was said to be (nF and µF), --open and --loaded are swapped, or "
    "something moved between them"
)


def refuse_no_coil(figures: Mapping[str, Figure], *, by_exciter: bool) -> None:
    """Refuse a coil that no pickup has: one at the end of where it was looked for.

    Parameters
    ----------
    figures : by key
    by_exciter : whether it was loaded, and not put on the point

    Raises
    ------
    SigsimError : it is none
    """
    for key, (least, most) in _LIMITS.items():
        figure = figures[key]
        value = figure.value
        if isinstance(value, float) and least <= value <= most:
            continue
        likely = _BY_EXCITER if by_exciter else _BY_RESISTOR
        found = "anything" if not isinstance(value, float) else render(value, figure.unit, 3)
        raise SigsimError(
            f"no pickup has a coil like this; likely: {likely}",
            where="--loaded" if by_exciter else "--with",
            found=f"{found} of {key}",
            accepted=f"{render(least, figure.unit)} to {render(most, figure.unit)}",
        )


def doubts(figures: Mapping[str, Figure]) -> list[str]:
    """Return what should be known of a coil that is possible and unusual."""
    said = []
    resistance, capacitance = figures["resistance"].value, figures["capacitance"].value
    if isinstance(resistance, float) and resistance > _UNUSUAL:
        said.append(
            f"A coil of {render(resistance, 'Ω', 2)} is unusual (5 to 20 kΩ are common): see that "
            "all knobs of the instrument were at 10."
        )
    if isinstance(capacitance, float) and capacitance > _UNUSUAL_C:
        said.append(
            f"{render(capacitance, 'F', 2)} are unusual for a pickup with its wiring (50 to 300 pF "
            "are common): see that every part was what was said of it, a --load above all."
        )
    return said
