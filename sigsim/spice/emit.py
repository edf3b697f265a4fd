"""How each kind of item of the chain is written into a netlist.

One function per class, found by the item's type: a new kind of item registers one more. Written
from the definition of each item as a circuit, not from its equations, so that a simulator that
solves the result checks those equations.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import singledispatch
from typing import TYPE_CHECKING

from sigsim.errors import SigsimError, quote
from sigsim.items.cable import Cable
from sigsim.items.loop import Loop
from sigsim.items.passive_stage import Pad, PassiveStage, Transformer, VolumePedal
from sigsim.items.stage import ActiveStage
from sigsim.items.tap import Tap
from sigsim.physics.pot import fraction
from sigsim.spice.emit_line import cable
from sigsim.spice.emit_noise import stage_noise
from sigsim.spice.network import GROUND

if TYPE_CHECKING:
    from collections.abc import Callable

    from sigsim.items.destination import Destination
    from sigsim.items.inputs import Input
    from sigsim.items.stage import Output
    from sigsim.physics.arrays import Value
    from sigsim.spice.emit_line import LineStyle
    from sigsim.spice.network import Network

# The resistor of a pole, with a follower before and behind it: any value would do.
POLE_RESISTANCE = 1e3


@dataclass(frozen=True)
class Span:
    """Where an item is written.

    Attributes
    ----------
    net : the circuit in the making
    here, there : the nodes before and behind the item
    on : whether it is on
    style : how cables are written
    heard : whether it is on the way to the end where one listens
    """

    net: Network
    here: int
    there: int
    on: bool
    style: LineStyle
    heard: bool = True


@singledispatch
def emit(item: object, _at: Span) -> None:
    """Write one item of the chain.

    Raises
    ------
    SigsimError : nothing is known of this kind of item
    """
    label = str(getattr(item, "label", type(item).__name__))
    raise SigsimError("this kind of item cannot be written as a netlist", found=quote(label))


def describe(item: object, on: bool) -> str:
    """Return a few words on what an item is in this state."""
    if isinstance(item, Cable):
        return f"cable of {float(item.length):.4g} m"
    if isinstance(item, Tap):
        return f"tap, cable of {float(item.cable.length):.4g} m"
    if isinstance(item, Loop):
        return "loop, out"
    if isinstance(item, ActiveStage) and not on:
        return f"off, {item.bypass} bypass"
    return "on" if on else "off"


@emit.register(Cable)
def _cable(item: Cable, at: Span) -> None:
    cable(item, at.net, at.here, at.there, at.style)


@emit.register(Tap)
def _tap(item: Tap, at: Span) -> None:
    net = at.net
    net.wire(at.here, at.there)
    far = net.node("far")
    cable(item.cable, net, at.here, far, at.style)
    _input(item.input, net, far)


@emit.register(ActiveStage)
def _active(item: ActiveStage, at: Span) -> None:
    if at.on:
        _amplifying(item, at)
    else:
        _OFF[item.bypass](item, at)


@emit.register(PassiveStage)
def _passive(item: PassiveStage, at: Span) -> None:
    if at.on:
        network(item, at)
    else:
        _bypassed(item, at)


@singledispatch
def network(item: PassiveStage, _at: Span) -> None:
    """Write a passive stage that is on.

    Raises
    ------
    SigsimError : nothing is known of this kind of stage
    """
    raise SigsimError("this kind of stage cannot be written as a netlist", found=quote(item.label))


@network.register(VolumePedal)
def _volume_pedal(item: VolumePedal, at: Span) -> None:
    a = fraction(item.position, item.taper)
    pot(at.net, at.here, at.there, "track", item.track, a)


@network.register(Pad)
def _pad(item: Pad, at: Span) -> None:
    at.net.resistor("series", at.here, at.there, item.series_resistance)
    if item.shunt_resistance is not None:
        at.net.resistor("shunt", at.there, GROUND, item.shunt_resistance)


@network.register(Transformer)
def _transformer(item: Transformer, at: Span) -> None:
    net = at.net
    names = ("leakage", "primary", "ideal", "secondary")
    leakage, primary, ideal, secondary = (net.node(name) for name in names)
    share = 1 / float(item.ratio)
    net.capacitor("winding", at.here, GROUND, item.winding_capacitance)
    net.inductor("leakage", at.here, leakage, item.leakage_inductance)
    net.resistor("primary", leakage, primary, item.primary_resistance)
    if item.primary_inductance is not None:
        net.inductor("magnetising", primary, GROUND, item.primary_inductance)
    net.amplifier("ratio", primary, ideal, share)
    meter = net.ammeter("ratio", ideal, secondary)
    net.current("ratio", primary, GROUND, meter, share)
    net.resistor("secondary", secondary, at.there, item.secondary_resistance)


def destination(item: Destination, net: Network, here: int, out: int) -> None:
    """Write the input that reads the signal at `out`: where it is fed, or behind its stopper."""
    net.wire(_input(item.input, net, here), out)


def pot(net: Network, top: int, wiper: int, role: str, track: Value, a: Value) -> None:
    """Write a potentiometer: `a` is the fraction of its track below the wiper."""
    upper = (1 - float(a)) * float(track)
    lower = float(a) * float(track)
    net.resistor(f"{role}_upper", top, wiper, upper)
    net.resistor(f"{role}_lower", wiper, GROUND, lower)


def output(item: Output, net: Network, inside: int, there: int) -> None:
    """Write the output resistance and, if there is one, the capacitor in series with it."""
    behind = there if item.capacitor is None else net.node("behind")
    net.resistor("output", inside, behind, item.resistance)
    if item.capacitor is not None:
        net.capacitor("output_series", behind, there, item.capacitor)


@emit.register(Loop)
def _bypassed(item: ActiveStage | PassiveStage | Loop, at: Span) -> None:
    at.net.resistor("contact", at.here, at.there, item.contact_resistance)
    at.net.capacitor("wiring", at.there, GROUND, item.wiring_capacitance)


def _input(entry: Input, net: Network, here: int) -> int:
    """Write an input and return the node that is read."""
    inner = here
    if entry.capacitor is not None:
        inner = net.node("inner")
        net.capacitor("input_series", here, inner, entry.capacitor)
    if entry.resistance is not None:
        net.resistor("input", inner, GROUND, entry.resistance)
    read = inner
    if entry.stopper:
        read = net.node("behind_stopper")
        net.resistor("stopper", inner, read, entry.stopper)
    net.capacitor("input", read, GROUND, entry.capacitance)
    return read


def _amplifying(item: ActiveStage, at: Span) -> None:
    net, here, there = at.net, at.here, at.there
    inner = _input(item.input(True), net, stage_noise(item, net, here, at.heard))
    amplified = net.node("amplified")
    net.amplifier("gain", inner, amplified, 10 ** (float(item.gain) / 20))
    if item.low_pass is not None:
        before, amplified = amplified, net.node("low_pass")
        pole = net.node("low_pole")
        net.silent_resistor("low_pass", before, pole, POLE_RESISTANCE)
        net.capacitor("low_pass", pole, GROUND, _pole_capacitance(item.low_pass))
        net.amplifier("low_pass", pole, amplified, 1.0)
    if item.high_pass is not None:
        before, amplified = amplified, net.node("high_pass")
        pole = net.node("high_pole")
        net.capacitor("high_pass", before, pole, _pole_capacitance(item.high_pass))
        net.silent_resistor("high_pass", pole, GROUND, POLE_RESISTANCE)
        net.amplifier("high_pass", pole, amplified, 1.0)
    output(item.output(True), net, amplified, there)


def _pole_capacitance(corner: Value) -> float:
    return 1 / (2 * math.pi * float(corner) * POLE_RESISTANCE)


def _hardwire(item: ActiveStage, at: Span) -> None:
    _input(item.input(True), at.net, at.here)
    _bypassed(item, at)


def _buffered(item: ActiveStage, at: Span) -> None:
    """Write a follower."""
    net = at.net
    inner = _input(item.input(False), net, stage_noise(item, net, at.here, at.heard))
    followed = net.node("followed")
    net.amplifier("follower", inner, followed, 10 ** (float(item.bypass_gain) / 20))
    output(item.output(False), net, followed, at.there)


_OFF: dict[str, Callable[[ActiveStage, Span], None]] = {
    "true": _bypassed,
    "hardwire": _hardwire,
    "buffered": _buffered,
}
