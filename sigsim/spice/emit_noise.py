"""The input noise of a powered stage, in parts that every simulator has.

SPICE has no source of a stated noise density. A resistor has one: 4kTR across it, 4kT/R through
it (H. Nyquist, *Physical Review* 32 (1928) 110). A resistor on its own of the right size, copied
by a controlled source, is a noise source of any density.

What makes noise in these netlists is what stands for a physical part: windings, tracks, contacts,
cable sections, pads, input and output resistances. Controlled sources make none, and the resistors
that shape a stage's own corners are written as conductances, which make none either.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from sigsim.physics.noise import BOLTZMANN, ROOM_TEMPERATURE
from sigsim.spice.network import GROUND

if TYPE_CHECKING:
    from sigsim.items.stage import ActiveStage
    from sigsim.spice.network import Network

ZERO_CELSIUS: Final = 273.15


def stage_noise(item: ActiveStage, net: Network, here: int, heard: bool) -> int:
    """Write a stage's voltage and current noise and return the node of its quiet input.

    They sit at the input terminals, before its impedance, so that a source impedance Z sees
    `en² + |in·Z|²`. Of a stage that is not on the way to the end where one listens only the
    current goes into the line.
    """
    if not net.noise:
        return here
    if item.input_noise_current:
        port, density = net.node("in_port"), float(item.input_noise_current)
        net.resistor("in", port, GROUND, 4 * BOLTZMANN * ROOM_TEMPERATURE / density**2)
        net.current("in", GROUND, here, net.ammeter("in", port, GROUND), 1.0)
    if item.input_noise_voltage and not heard:
        net.comment("Its voltage noise is left out: it does not go back into the line.")
    elif item.input_noise_voltage:
        port, quiet = net.node("en_port"), net.node("quiet")
        density = float(item.input_noise_voltage)
        net.resistor("en", port, GROUND, density**2 / (4 * BOLTZMANN * ROOM_TEMPERATURE))
        net.amplifier("en", port, quiet, 1.0, base=here)
        return quiet
    return here
