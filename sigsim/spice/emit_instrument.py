"""How an instrument is written into a netlist, with 1 V induced in each coil."""

from __future__ import annotations

from functools import singledispatch
from typing import TYPE_CHECKING

from sigsim.errors import SigsimError
from sigsim.items.instrument import ActiveInstrument, PassiveInstrument
from sigsim.items.stage import Output
from sigsim.physics.pot import fraction
from sigsim.spice.emit import output, pot
from sigsim.spice.network import GROUND

if TYPE_CHECKING:
    from sigsim.items.instrument import Coil, Pickup, VolumePot
    from sigsim.spice.network import Network


@singledispatch
def instrument(item: object, _net: Network, _jack: int) -> None:
    """Write an instrument whose output is the node `jack`."""
    raise SigsimError(
        "this kind of instrument cannot be written as a netlist", found=type(item).__name__
    )


@instrument.register(ActiveInstrument)
def _active(item: ActiveInstrument, net: Network, jack: int) -> None:
    inside = net.node("inside")
    net.source("signal", inside, GROUND)
    output(Output(item.output_resistance, item.output_capacitor), net, inside, jack)


@instrument.register(PassiveInstrument)
def _passive(item: PassiveInstrument, net: Network, jack: int) -> None:
    joined = net.node("pickups")
    _pickups(item, net, joined)
    if item.tone_position == "before volume":
        _tone(item, net, joined)
        _volume(item, net, "volume", joined, jack)
    else:
        _volume(item, net, "volume", joined, jack)
        _tone(item, net, jack)


def _pickups(item: PassiveInstrument, net: Network, joined: int) -> None:
    if not item.pickups:
        _coil(item, net, "coil", GROUND, joined)
    elif item.pickups_wiring == "series":
        _in_series(item.pickups, net, joined)
    else:
        for number, pickup in enumerate(item.pickups, 1):
            hot = net.node(f"hot{number}")
            _coil(pickup, net, f"coil{number}", GROUND, hot)
            _volume(pickup, net, f"volume{number}", hot, joined)


def _in_series(pickups: tuple[Pickup, ...], net: Network, joined: int) -> None:
    cold = GROUND
    for number, pickup in enumerate(pickups, 1):
        hot = joined if number == len(pickups) else net.node(f"hot{number}")
        _coil(pickup, net, f"coil{number}", cold, hot)
        cold = hot


def _coil(coil: Coil, net: Network, role: str, cold: int, hot: int) -> None:
    induced, middle = net.node(f"{role}_induced"), net.node(f"{role}_middle")
    net.source(role, induced, cold)
    net.resistor(role, induced, middle, coil.resistance)
    net.inductor(role, middle, hot, coil.inductance)
    if coil.loss_resistance is not None:
        net.resistor(f"{role}_loss", middle, hot, coil.loss_resistance)
    net.capacitor(role, hot, cold, coil.capacitance)


def _volume(item: VolumePot, net: Network, role: str, top: int, wiper: int) -> None:
    if item.volume_track is None:
        net.wire(top, wiper)
    else:
        a = fraction(item.volume, item.volume_taper)
        pot(net, top, wiper, role, item.volume_track, a)


def _tone(item: PassiveInstrument, net: Network, here: int) -> None:
    if float(item.tone_capacitor) > 0:
        behind = net.node("tone")
        R = float(item.tone_track) * float(fraction(item.tone, item.tone_taper))
        net.resistor("tone", here, behind, R)
        net.capacitor("tone", behind, GROUND, item.tone_capacitor)
