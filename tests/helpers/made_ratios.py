"""Ratios of recordings of an invented bench, made without the program.

The circuits are solved by nodal analysis (`network.py`). What an interface adds is drawn: noise of
a known size, a delay and a gain for each recording, compression from its third harmonic.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from helpers.network import GROUND, Network
from sigsim.measure.response import Ratio

Floats = NDArray[np.float64]
Complexes = NDArray[np.complexfloating[Any, Any]]
# Puts what is tested between a node and ground.
Thing = Callable[[Network, int], None]

GRID = np.geomspace(20.0, 20e3, 400)
# Standard error of ln T at the loop's level: a noise floor of -80 dBFS under a sweep of -20 dBFS,
# compressed some hundredfold by the deconvolution.
NOISE = 1e-4
# Between recordings [dB], and of the start [s].
DRIFT_DB, START = 0.003, 50e-6
# Third harmonic of the input at the loop's level, and of input and output together.
INPUT_THIRD, SEEN_THIRD = 0.0005, 0.001


@dataclass
class Bench:
    """One interface with its lead and its resistor.

    Attributes
    ----------
    rng : draws all that is not said
    resistor, output : true values [Ω]
    input_R, lead_C, lead_tangent : true values of the point [Ω], [F], [-]
    noise : standard error of ln T at the loop's level
    """

    rng: np.random.Generator
    resistor: float = 100e3
    output: float = 150.0
    input_R: float = 1e6
    lead_C: float = 450e-12
    lead_tangent: float = 0.015
    noise: float = NOISE

    def level(self, thing: Thing | None, resistor: float | None = None) -> Complexes:
        """Return the voltage at the point [V] with 1 V in the output."""
        net = Network(GRID)
        source, point = net.node(), net.node()
        net.emf(source, GROUND)
        net.impedance(
            source, point, self.output + (self.resistor if resistor is None else resistor)
        )
        net.admittance(point, 1 / self.input_R)
        net.admittance(point, lossy_capacitor(net, self.lead_C, self.lead_tangent))
        if thing is not None:
            thing(net, point)
        return net.voltage(point)

    def over_loop(self, name: str, thing: Thing | None = None) -> Ratio:
        """Return the recording with a thing on the point over the loop."""
        return self.recorded(name, self.level(thing), self.level(None, 0.0))

    def recorded(self, name: str, above: Complexes, below: Complexes) -> Ratio:
        """Return two voltages as recordings, divided; both at most at the loop's level."""
        loud = float(np.max(np.abs([above, below])))
        # The cubic term that makes a third harmonic h of a sine takes 3h off the sine itself.
        pressed = [v * (1 - 3 * INPUT_THIRD * np.abs(v / loud) ** 2) for v in (above, below)]
        T = pressed[0] / pressed[1]
        sigma = self.noise * loud * np.hypot(1 / np.abs(above), 1 / np.abs(below))
        noise = sigma * (
            self.rng.standard_normal(GRID.size) + 1j * self.rng.standard_normal(GRID.size)
        )
        gain = self.rng.normal(0.0, DRIFT_DB) * np.log(10) / 20
        delay = self.rng.uniform(-START, START)
        found = T * np.exp(gain + noise - 2j * np.pi * GRID * delay)
        level = np.abs(below) / np.max(np.abs(below))
        # As much as it is where the recording below is loudest.
        third = SEEN_THIRD * float(np.max(np.abs(below)) / loud) ** 2
        return Ratio(name, GRID, found, sigma, third=third, level=level)


def drawn_bench(rng: np.random.Generator, resistor: float = 100e3) -> Bench:
    """Return a bench whose resistor is anywhere within 0.5 %; its output was told within 10 %."""
    return Bench(
        rng,
        resistor=resistor * rng.uniform(0.995, 1.005),
        output=150.0 * rng.uniform(0.9, 1.1),
        input_R=rng.choice([0.5e6, 1e6, 1e6, 2e6]) * rng.uniform(0.95, 1.05),
        lead_C=rng.uniform(200e-12, 700e-12),
        lead_tangent=rng.uniform(0.0, 0.03),
    )


def lossy_capacitor(net: Network, C: float, tangent: float) -> Complexes:
    """Return the admittance [S] of a capacitor that loses part of what it stores."""
    made: Complexes = net.jw * C + np.imag(net.jw) * C * tangent
    return made


def cable(C: float, tangent: float, plug: float) -> Thing:
    """Return a cable of a few metres with its far end free, in all a capacitance."""

    def thing(net: Network, point: int) -> None:
        net.admittance(point, lossy_capacitor(net, C, tangent))
        net.admittance(point, net.jw * 2 * plug)

    return thing


def loss(net: Network, R: float, n: float) -> Complexes:
    """Return the impedance [Ω] of a loss of `R` at 1 kHz that grows with f to the n."""
    made: Complexes = R * (net.jw / (2 * np.pi * 1e3)) ** n
    return made


@dataclass
class Instrument:
    """A pickup behind its knobs; figures [Ω], [H], [F], [-]."""

    R: float = 7e3
    L: float = 3.5
    C: float = 120e-12
    loss: float = 250e3
    n: float = 0.5
    track: float | None = 250e3
    tone: tuple[float, float] | None = None
    wiring: float = 30e-12

    def at(self, part: float) -> Thing:
        """Return it with the wiper at a part of the track."""

        def thing(net: Network, point: int) -> None:
            self.joined(net, point, part, emf=False)

        return thing

    def joined(self, net: Network, point: int, part: float, *, emf: bool) -> None:
        """Put the instrument between a node and ground, perhaps with 1 V induced in the coil."""
        hot, middle, below = net.node(), net.node(), net.node()
        net.impedance(hot, middle, self.R)
        winding = 1 / (1 / (net.jw * self.L) + 1 / loss(net, self.loss, self.n))
        net.impedance(middle, below, winding)
        if emf:
            net.emf(below, GROUND)
        else:
            net.wire(below, GROUND)
        net.admittance(hot, net.jw * self.C)
        if self.tone is not None:
            track, capacitor = self.tone
            net.admittance(hot, 1 / (track + 1 / (net.jw * capacitor)))
        if self.track is None:
            net.wire(hot, point)
        else:
            net.impedance(hot, point, (1 - part) * self.track)
            net.admittance(point, 1 / (part * self.track))
        net.admittance(point, net.jw * self.wiring)

    def heard(
        self, R: float, C: float, load_C: float = 0.0, load_R: float | None = None
    ) -> Complexes:
        """Return the voltage [V] at a probe of `R` and `C`, with a load across it."""
        net = Network(GRID)
        point = net.node()
        self.joined(net, point, 1.0, emf=True)
        net.admittance(point, 1 / R + net.jw * (C + load_C))
        if load_R is not None:
            net.admittance(point, 1 / load_R)
        return net.voltage(point)


def pedal(R: float, C: float, capacitor: float | None = None, stopper: float = 0.0) -> Thing:
    """Return the input of a pedal."""

    def thing(net: Network, point: int) -> None:
        inside, gate = net.node(), net.node()
        net.impedance(point, inside, 0.0 if capacitor is None else 1 / (net.jw * capacitor))
        net.admittance(inside, 1 / R)
        net.impedance(inside, gate, stopper)
        net.admittance(gate, net.jw * C)

    return thing


def voltage_of_output(R: float, capacitor: float | None, load: float | None) -> Complexes:
    """Return the voltage [V] of an output of 1 V at an instrument input, perhaps with a load."""
    net = Network(GRID)
    source, point = net.node(), net.node()
    net.emf(source, GROUND)
    coupling = 0.0 if capacitor is None else 1 / (net.jw * capacitor)
    net.impedance(source, point, R + coupling)
    net.admittance(point, 1e-6 + net.jw * 400e-12)
    if load is not None:
        net.admittance(point, 1 / load)
    return net.voltage(point)
