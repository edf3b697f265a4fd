"""What the user knows and says by options, each a quantity with its tolerance."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sigsim.units import Quantity


@dataclass(frozen=True)
class Across:
    """What lies across a line: a resistance and a capacitance, either may be None.

    Attributes
    ----------
    resistance : [Ω]
    capacitance : [F]
    """

    resistance: Quantity | None = None
    capacitance: Quantity | None = None


@dataclass(frozen=True)
class Known:
    """The options of `measure` that are quantities; None for not given.

    Attributes
    ----------
    resistor, output_resistance : what drives the point [Ω]
    interface_input : of the interface, without lead [Ω]
    length : of the cable [m]
    plug_capacitance : at each end of the cable [F]
    volume_track, tone_track : [Ω]; tone_capacitor : [F]; loss_exponent : [-]
    probe : what the interface's input and the lead are to a coil (exciter)
    loads : what each of the loaded recordings has across it, in order
    bypass : the word to write for a bypass, as the board file has it
    """

    resistor: Quantity | None = None
    output_resistance: Quantity | None = None
    interface_input: Quantity | None = None
    length: Quantity | None = None
    plug_capacitance: Quantity | None = None
    volume_track: Quantity | None = None
    tone_track: Quantity | None = None
    tone_capacitor: Quantity | None = None
    loss_exponent: Quantity | None = None
    probe: Across | None = None
    loads: tuple[Across, ...] = ()
    bypass: str | None = None
