"""Powered stages: pedals, preamps, buffers, tuners."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar, NamedTuple

from sigsim.items.base import Stage, stage_kind
from sigsim.items.feeding import FedStage
from sigsim.items.fields import choice, flag, quantity, text
from sigsim.items.inputs import STOPPER_NEED, Input
from sigsim.items.needs import Need
from sigsim.physics.source import Isolator, capacitor, shunt

if TYPE_CHECKING:
    from typing import Self

    from sigsim.physics.arrays import ComplexArray, Impedance, Value
    from sigsim.physics.source import Step

BYPASSES = ("true", "buffered", "hardwire")
_MECHANICAL = ("contact_resistance", "wiring_capacitance")
_COUPLING = (
    "input_capacitor",
    "output_capacitor",
    "bypass_input_capacitor",
    "bypass_output_capacitor",
)
_BUFFERED = (
    "bypass_input_resistance",
    "bypass_input_capacitance",
    "bypass_output_resistance",
    "bypass_gain",
    "bypass_input_capacitor",
    "bypass_output_capacitor",
)


class Output(NamedTuple):
    """An output: a resistance, perhaps with a capacitor in series.

    Attributes
    ----------
    resistance : [Ω]
    capacitor : [F], None for a wire
    """

    resistance: Value
    capacitor: Value | None

    def impedance(self, jw: ComplexArray) -> Impedance:
        """Return the impedance [Ω]."""
        R = self.resistance
        return R if self.capacitor is None else R + capacitor(jw, self.capacitor)


@stage_kind("active")
@dataclass(frozen=True, kw_only=True)
class ActiveStage(FedStage, Stage):
    """A stage that isolates when it is on; what it is when off depends on its bypass."""

    stage: str = text("its name")
    input_resistance: Value = quantity(
        "resistance", "at the input when on", above_zero=True, usually_kilohms=True
    )
    output_resistance: Value = quantity("resistance", "at the output when on")
    input_capacitance: Value = quantity("capacitance", "across the input", 0.0)
    input_series_resistance: Value = quantity(
        "resistance",
        "a stopper in series before that capacitance, when on",
        0.0,
        usually_kilohms=True,
    )
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
    bypass_gain: Value = quantity("gain", "from input to open output when off, buffered", 0.0)
    bypass_input_capacitor: Value | None = quantity(
        "capacitance", "in series before the input when off, buffered", None, above_zero=True
    )
    bypass_output_capacitor: Value | None = quantity(
        "capacitance", "in series after the output when off, buffered", None, above_zero=True
    )
    always_on: bool = flag("it has no switch", False)
    needs_pickup: bool = flag("no isolator may come before it", False)
    input_noise_voltage: Value | None = quantity("noise voltage", "at the input", None)
    input_noise_current: Value | None = quantity("noise current", "at the input", None)

    needs: ClassVar[tuple[Need, ...]] = (
        Need(
            ("bypass", *_MECHANICAL, *_BUFFERED),
            ("always_on",),
            "this stage is always on, so it is never bypassed",
            words=(False,),
        ),
        Need(
            _MECHANICAL,
            ("bypass",),
            "a buffered bypass sends the signal through its buffer, past no bare contact or wire",
            words=("true", "hardwire"),
        ),
        Need(
            _BUFFERED,
            ("bypass",),
            "only a buffered bypass has an input and an output of its own",
            words=("buffered",),
        ),
        STOPPER_NEED,
    )

    def step(self, jw: ComplexArray, on: bool) -> Step:
        """Return the stage at jω [rad/s], on or off."""
        if on:
            return self._isolator(jw, True, self._gain(jw))
        if self.bypass == "buffered":
            return self._isolator(jw, False, _times(self.bypass_gain))
        if self.bypass == "hardwire":
            return shunt(self.input(True).load(jw).Y).then(self.bypassed(jw))
        return self.bypassed(jw)

    def _isolator(self, jw: ComplexArray, on: bool, gain: Impedance) -> Isolator:
        Y, share = self.input(on).load(jw)
        g = gain if share is None else gain * share
        return Isolator(Y, g, self.output(on).impedance(jw))

    def input(self, on: bool) -> Input:
        """Return its input when on, or that of its buffered bypass: as when on, if not given."""
        R, C = self.input_resistance, self.input_capacitance
        if on:
            return Input(R, C, self.input_capacitor, self.input_series_resistance)
        given_R, given_C = self.bypass_input_resistance, self.bypass_input_capacitance
        return Input(
            R if given_R is None else given_R,
            C if given_C is None else given_C,
            self.bypass_input_capacitor,
        )

    def output(self, on: bool) -> Output:
        """Return its output when on, or that of its buffered bypass: as when on, if not given."""
        if on:
            return Output(self.output_resistance, self.output_capacitor)
        given = self.bypass_output_resistance
        R = self.output_resistance if given is None else given
        return Output(R, self.bypass_output_capacitor)

    def _gain(self, jw: ComplexArray) -> Impedance:
        """Return the gain [-] from the node that is amplified to the open output."""
        g = _times(self.gain)
        if self.low_pass is not None:
            g = g / (1 + jw / (2 * math.pi * self.low_pass))
        if self.high_pass is not None:
            corner = jw / (2 * math.pi * self.high_pass)
            g = g * corner / (1 + corner)
        return g

    def isolates(self, on: bool) -> bool:
        """On, or off with a buffered bypass."""
        return on or self.bypass == "buffered"

    def shunt_capacitance(self, on: bool) -> Value:
        """Return the capacitance [F] across the line while it is off and passive."""
        if self.isolates(on):
            return 0.0
        wiring = self.wiring_capacitance
        return wiring + self.input(True).capacitance if self.bypass == "hardwire" else wiring

    def load_capacitance(self, on: bool) -> Value:
        """Return the capacitance [F] of the input that is connected."""
        return self.input(on).capacitance

    def resistive(self) -> Self:
        """Close the coupling capacitors."""
        if all(getattr(self, key) is None for key in _COUPLING):
            return self
        closed: dict[str, Any] = dict.fromkeys(_COUPLING)
        return dataclasses.replace(self, **closed)


def _times(gain: Value) -> Impedance:
    """Return a gain [dB] as a factor [-]."""
    factor: Impedance = 10 ** (gain / 20)
    return factor
