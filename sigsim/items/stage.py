"""Powered stages: pedals, preamps, buffers, tuners."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sigsim.items.base import bypassed, stage_kind
from sigsim.items.fields import Declared, choice, flag, quantity, text
from sigsim.physics.source import Isolator, capacitor, shunt

if TYPE_CHECKING:
    from sigsim.physics.arrays import ComplexArray, Impedance, Value
    from sigsim.physics.source import Step

BYPASSES = ("true", "buffered", "hardwire")


@stage_kind("active")
@dataclass(frozen=True, kw_only=True)
class ActiveStage(Declared):
    """A stage that isolates when it is on; what it is when off depends on its bypass."""

    stage: str = text("its name")
    input_resistance: Value = quantity(
        "resistance", "at the input when on", above_zero=True, usually_kilohms=True
    )
    output_resistance: Value = quantity("resistance", "at the output when on")
    input_capacitance: Value = quantity("capacitance", "across the input", 0.0)
    input_capacitor: Value | None = quantity(
        "capacitance", "in series before the input", None, above_zero=True
    )
    output_capacitor: Value | None = quantity(
        "capacitance", "in series after the output", None, above_zero=True
    )
    gain: Value = quantity("gain", "from input to open output when on", 0.0)
    low_pass: Value | None = quantity(
        "frequency", "corner of its own single-pole low-pass", None, above_zero=True
    )
    high_pass: Value | None = quantity(
        "frequency", "corner of its own single-pole high-pass", None, above_zero=True
    )
    bypass: str = choice("what it is when off", BYPASSES, "true")
    contact_resistance: Value = quantity("resistance", "of the switch, in series when off", 0.0)
    wiring_capacitance: Value = quantity("capacitance", "of the wiring to ground when off", 0.0)
    bypass_input_resistance: Value | None = quantity(
        "resistance", "input when off, buffered (as when on)", None, above_zero=True
    )
    bypass_input_capacitance: Value | None = quantity(
        "capacitance", "across the input when off, buffered (as when on)", None
    )
    bypass_output_resistance: Value | None = quantity(
        "resistance", "output when off, buffered (as when on)", None
    )
    always_on: bool = flag("it has no switch", False)
    needs_pickup: bool = flag("no isolator may come before it", False)
    input_noise_voltage: Value | None = quantity("noise voltage", "at the input", None)
    input_noise_current: Value | None = quantity("noise current", "at the input", None)

    @property
    def label(self) -> str:
        """The stage's name."""
        return self.stage

    @property
    def switch(self) -> str | None:
        """The stage's name, None if it is always on."""
        return None if self.always_on else self.stage

    def step(self, jw: ComplexArray, on: bool) -> Step:
        """Return the stage at jω [rad/s], on or off."""
        if on:
            return self._on(jw)
        if self.bypass == "buffered":
            return self._buffer(jw)
        off = bypassed(jw, self.contact_resistance, self.wiring_capacitance)
        if self.bypass == "hardwire":
            return shunt(self._input(jw)[0]).then(off)
        return off

    def _input(self, jw: ComplexArray) -> tuple[Impedance, Impedance]:
        """Return the input admittance [S] and the share of the voltage behind its capacitor."""
        Y = 1 / self.input_resistance + jw * self.input_capacitance
        if self.input_capacitor is None:
            return Y, 1.0
        share = 1 / (1 + Y * capacitor(jw, self.input_capacitor))
        return Y * share, share

    def _on(self, jw: ComplexArray) -> Isolator:
        Y, g = self._input(jw)
        g = g * 10 ** (self.gain / 20)
        if self.low_pass is not None:
            g = g / (1 + jw / (2 * math.pi * self.low_pass))
        if self.high_pass is not None:
            corner = jw / (2 * math.pi * self.high_pass)
            g = g * corner / (1 + corner)
        Z: Impedance = self.output_resistance
        if self.output_capacitor is not None:
            Z = Z + capacitor(jw, self.output_capacitor)
        return Isolator(Y, g, Z)

    def _buffer(self, jw: ComplexArray) -> Isolator:
        R, C = self.bypass_input_resistance, self.bypass_input_capacitance
        R = self.input_resistance if R is None else R
        C = self.input_capacitance if C is None else C
        Z = self.bypass_output_resistance
        return Isolator(1 / R + jw * C, 1.0, self.output_resistance if Z is None else Z)

    def isolates(self, on: bool) -> bool:
        """On, or off with a buffered bypass."""
        return on or self.bypass == "buffered"

    def in_ideal(self, on: bool) -> bool:
        """The ideal reference keeps what is on."""
        return on

    def shunt_capacitance(self, on: bool) -> Value:
        """Return the capacitance [F] across the line while it is off and passive."""
        if self.isolates(on):
            return 0.0
        wiring = self.wiring_capacitance
        return wiring + self._input_capacitance() if self.bypass == "hardwire" else wiring

    def load_capacitance(self, on: bool) -> Value:
        """Return the capacitance [F] of the input that is connected."""
        if not on and self.bypass_input_capacitance is not None:
            return self.bypass_input_capacitance
        return self._input_capacitance() if on else self.input_capacitance

    def _input_capacitance(self) -> Value:
        """Return the input capacitance [F] as seen through the input capacitor."""
        C = self.input_capacitance
        if self.input_capacitor is None:
            return C
        return C * self.input_capacitor / (C + self.input_capacitor)

    def resistive(self) -> ActiveStage:
        """Close the coupling capacitors."""
        return dataclasses.replace(self, input_capacitor=None, output_capacitor=None)
