"""How a cable is written: as a distributed line, or as many small sections.

A simulator's lossy line (LTRA) takes R, L and C per metre and a length, but refuses a line of
which only one of them is not zero, and one of resistance and inductance alone. Those are lumped
parts anyway: without C' the cable is R and L in series, without R' and L' it is a capacitor.
Its AC analysis is exact: it uses the closed form of the line at every frequency.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal, TypeAlias

from sigsim.metrics import HIGHEST_HZ
from sigsim.spice.network import GROUND
from sigsim.spice.text import number, safe

if TYPE_CHECKING:
    from sigsim.items.cable import Cable
    from sigsim.spice.network import Network

LineForm: TypeAlias = Literal["ltra", "sections"]
DEFAULT_SECTIONS: Final = 20
# A line of |γl| = x is one section of R, L and C to x²/6, here to 1e-13. As a distributed line
# it would be worse: the simulator subtracts exp(-x) from 1.
LUMPED: Final = 1e-6
# A section of |γl| = x is off by about x²/24 of itself, here by 0.0002 at 40 kHz.
COARSE: Final = 0.07
_HIGHEST: Final = 2 * math.pi * HIGHEST_HZ


@dataclass(frozen=True)
class LineStyle:
    """How cables are written.

    Attributes
    ----------
    form : "ltra" for the simulator's own lossy line, "sections" for R, L and C
    sections : how many to a cable
    """

    form: LineForm = "ltra"
    sections: int = DEFAULT_SECTIONS


def cable(item: Cable, net: Network, here: int, there: int, style: LineStyle) -> None:
    """Write a cable with its two plugs between two nodes."""
    spec = item.spec
    net.capacitor("plug_near", here, GROUND, spec.plug_capacitance)
    _bare(item, net, here, there, style)
    net.capacitor("plug_far", there, GROUND, spec.plug_capacitance)
    if spec.loss_tangent and spec.capacitance and item.length:
        net.cannot(
            f"the loss tangent of cable {safe(item.cable)}, "
            f"{float(spec.loss_tangent):.3g}, is left out"
        )


def _bare(item: Cable, net: Network, here: int, there: int, style: LineStyle) -> None:
    length = float(item.length)
    R, L, C = (
        float(v) * length
        for v in (item.spec.resistance, item.spec.inductance, item.spec.capacitance)
    )
    if C == 0:
        _series(net, "cable", here, there, R, L)
    elif R == 0 and L == 0:
        net.wire(here, there)
        net.capacitor("cable", here, GROUND, C)
    elif abs(complex(R, _HIGHEST * L)) * _HIGHEST * C < LUMPED**2:
        _sections(net, here, there, (R, L, C), 1)
    elif style.form == "sections":
        if abs(complex(R, _HIGHEST * L)) * _HIGHEST * C > (COARSE * style.sections) ** 2:
            net.cannot(
                f"cable {safe(item.cable)} of {length:.4g} m is too long for "
                f"{style.sections} sections up to 40 kHz"
            )
        _sections(net, here, there, (R, L, C), style.sections)
    else:
        if net.noise and R:
            net.cannot("the thermal noise of cables written as lossy lines is left out")
        _ltra(item, net, here, there)


def _ltra(item: Cable, net: Network, here: int, there: int) -> None:
    spec = item.spec
    parameters = {
        "r": spec.resistance,
        "l": spec.inductance,
        "g": 0.0,
        "c": spec.capacitance,
        "len": item.length,
    }
    holds = " ".join(f"{key}={number(value)}" for key, value in parameters.items())
    net.line("cable", here, there, net.model(holds), lossless=not spec.resistance)


def _series(net: Network, role: str, here: int, there: int, R: float, L: float) -> None:
    if R and L:
        between = net.node(f"{role}_rl")
        net.resistor(role, here, between, R)
        net.inductor(role, between, there, L)
    elif R:
        net.resistor(role, here, there, R)
    else:
        net.inductor(role, here, there, L)


def _sections(
    net: Network, here: int, there: int, total: tuple[float, float, float], count: int
) -> None:
    """Write equal sections of R and L in series with half of C at each end."""
    R, L, C = (value / count for value in total)
    width = len(str(count))
    net.capacitor("half_near", here, GROUND, C / 2)
    for index in range(1, count):
        role = f"{index:0{width}}"
        middle = net.node(f"s{role}")
        _series(net, f"s{role}", here, middle, R, L)
        net.capacitor(f"s{role}", middle, GROUND, C)
        here = middle
    _series(net, f"s{count}", here, there, R, L)
    net.capacitor("half_far", there, GROUND, C / 2)
