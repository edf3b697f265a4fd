"""How an instrument is written into a netlist, with 1 V induced in each coil."""

from __future__ import annotations

from functools import singledispatch
from typing import TYPE_CHECKING

from sigsim.errors import SigsimError
from sigsim.items.instrument import ActiveInstrument, PassiveInstrument
from sigsim.items.stage import Output
from sigsim.metrics import HIGHEST_HZ, LOWEST_HZ
from sigsim.physics.loss import LOSS_OMEGA
from sigsim.physics.pot import fraction
from sigsim.spice.emit import output, pot
from sigsim.spice.ladder import WITHIN_DB, WITHIN_DEGREES, sections
from sigsim.spice.network import GROUND

if TYPE_CHECKING:
    from sigsim.items.controls import BassCut, ToneControl, VolumePot
    from sigsim.items.instrument import Coil, Pickup
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
    played = jack if item.bass_cut_capacitor is None else net.node("played")
    _knobs(item, net, "", joined, played)
    _bass_cut(item, net, played, jack)
    net.capacitor("wiring", jack, GROUND, item.wiring_capacitance)


def _pickups(item: PassiveInstrument, net: Network, joined: int) -> None:
    if not item.pickups:
        _coil(item, net, "coil", GROUND, joined)
    elif item.pickups_wiring == "series":
        _in_series(item.pickups, net, joined)
    else:
        for number, pickup in enumerate(item.pickups, 1):
            hot = net.node(f"hot{number}")
            _pickup(pickup, net, number, GROUND, hot)
            _knobs(pickup, net, str(number), hot, joined)


def _in_series(pickups: tuple[Pickup, ...], net: Network, joined: int) -> None:
    cold = GROUND
    for number, pickup in enumerate(pickups, 1):
        hot = joined if number == len(pickups) else net.node(f"hot{number}")
        _pickup(pickup, net, number, cold, hot)
        _tone(pickup, net, f"tone{number}", hot, cold)
        cold = hot


def _pickup(pickup: Pickup, net: Network, number: int, cold: int, hot: int) -> None:
    """Write a pickup's coil; one of reversed polarity has its two ends exchanged."""
    ends = (hot, cold) if pickup.polarity == "reversed" else (cold, hot)
    _coil(pickup, net, f"coil{number}", *ends)


def _coil(coil: Coil, net: Network, role: str, cold: int, hot: int) -> None:
    induced, middle = net.node(f"{role}_induced"), net.node(f"{role}_middle")
    net.source(role, induced, cold)
    net.resistor(role, induced, middle, coil.resistance)
    net.inductor(role, middle, hot, coil.inductance)
    if coil.loss_resistance is not None:
        _loss(net, role, middle, hot, float(coil.loss_resistance), float(coil.loss_exponent))
    net.capacitor(role, hot, cold, coil.capacitance)


def _loss(net: Network, role: str, here: int, there: int, R: float, n: float) -> None:
    """Write `R·(jω/ω1)^n`: a resistor, an inductor, or in between a ladder of both."""
    if n == 0:
        net.resistor(f"{role}_loss", here, there, R)
    elif n == 1:
        net.inductor(f"{role}_loss", here, there, R / LOSS_OMEGA)
    else:
        steps = sections(R, n)
        net.comment(f"{role}: {len(steps)} resistors with an inductor across each are its loss")
        for number, section in enumerate(steps, 1):
            name = f"{role}_loss{number:02}"
            end = there if number == len(steps) else net.node(name)
            net.resistor(name, here, end, section.R)
            net.inductor(name, here, end, section.L)
            here = end
        net.comes_near(
            f"the coil's loss of exponent {n:.3g} is written as a ladder, within {WITHIN_DB:g} dB "
            f"and {WITHIN_DEGREES:g} degrees from {LOWEST_HZ:g} Hz to {HIGHEST_HZ / 1e3:g} kHz"
        )


def _knobs(item: ToneControl, net: Network, number: str, here: int, there: int) -> None:
    """Write a tone control and a volume pot; `number` tells those of several pickups apart."""
    if item.tone_position == "before volume":
        _tone(item, net, f"tone{number}", here, GROUND)
        _volume(item, net, f"volume{number}", here, there)
    else:
        _volume(item, net, f"volume{number}", here, there)
        _tone(item, net, f"tone{number}", there, GROUND)


def _volume(item: VolumePot, net: Network, role: str, here: int, there: int) -> None:
    if item.volume_track is None:
        net.wire(here, there)
        return
    a = fraction(item.volume, item.volume_taper)
    top, wiper = (there, here) if item.volume_wiring == "output at track" else (here, there)
    pot(net, top, wiper, role, item.volume_track, a)
    _bleed(item, net, f"{role}_bleed", top, wiper)


def _bleed(item: VolumePot, net: Network, role: str, top: int, wiper: int) -> None:
    C, R = float(item.treble_bleed_capacitor), float(item.treble_bleed_resistor)
    if C and R and item.treble_bleed == "series":
        middle = net.node(role)
        net.resistor(role, middle, wiper, R)
        wiper = middle
    elif C and R:
        net.resistor(role, top, wiper, R)
    net.capacitor(role, top, wiper, C)


def _tone(item: ToneControl, net: Network, role: str, here: int, cold: int) -> None:
    if float(item.tone_capacitor) > 0:
        behind = net.node(role)
        R = float(item.tone_track) * float(fraction(item.tone, item.tone_taper))
        net.resistor(role, here, behind, R)
        net.capacitor(role, behind, cold, item.tone_capacitor)


def _bass_cut(item: BassCut, net: Network, here: int, there: int) -> None:
    if item.bass_cut_capacitor is None:
        return
    net.capacitor("bass_cut", here, there, item.bass_cut_capacitor)
    if item.bass_cut_track is not None:
        above = 1 - float(fraction(item.bass_cut, item.bass_cut_taper))
        net.resistor("bass_cut", here, there, above * float(item.bass_cut_track))
