"""Stages without power: volume pedal, pad, transformer. They never isolate."""

from __future__ import annotations

import dataclasses
from abc import abstractmethod
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

import numpy as np

from sigsim.items.base import Stage, stage_kind
from sigsim.items.fields import flag, quantity, taper, text
from sigsim.items.needs import Need
from sigsim.physics.pot import AUDIO, Divider, fraction
from sigsim.physics.source import TwoPort, series, shunt

if TYPE_CHECKING:
    from sigsim.physics.arrays import ComplexArray, Value
    from sigsim.physics.source import Step


@dataclass(frozen=True, kw_only=True)
class PassiveStage(Stage):
    """A stage that is a two-port whether it is on or off."""

    stage: str = text("its name")
    always_on: bool = flag("it has no switch", True)
    contact_resistance: Value = quantity("resistance", "of the switch, in series when off", 0.0)
    wiring_capacitance: Value = quantity("capacitance", "of the wiring to ground when off", 0.0)

    needs: ClassVar[tuple[Need, ...]] = (
        Need(
            ("contact_resistance", "wiring_capacitance"),
            ("always_on",),
            "a passive stage is always on unless the file says that it has a switch",
            words=(False,),
        ),
    )

    @abstractmethod
    def network(self, jw: ComplexArray) -> Step:
        """Return the stage when on, at jω [rad/s]."""

    def step(self, jw: ComplexArray, on: bool) -> Step:
        """Return the stage at jω [rad/s], on or off."""
        return self.network(jw) if on else self.bypassed(jw)

    def divides(self, on: bool) -> bool:
        """What lies before it and behind it see different resistances when it is on."""
        return on

    def shunt_capacitance(self, on: bool) -> Value:
        """Return the capacitance [F] of its wiring while it is off."""
        return 0.0 if on else self.wiring_capacitance


@stage_kind("volume pedal")
@dataclass(frozen=True, kw_only=True)
class VolumePedal(PassiveStage):
    """A potentiometer under the foot."""

    track: Value = quantity(
        "resistance", "of the whole track", above_zero=True, usually_kilohms=True
    )
    taper: float = taper("of the track", AUDIO)
    position: Value = quantity("knob", "of the treadle, 0 to 10", 10.0)

    def divides(self, on: bool) -> bool:
        """Only fully down at 10 is it a mere load."""
        return on and bool(np.any(np.asarray(self.position) < 10))

    def network(self, jw: ComplexArray) -> Step:
        """Return the track as a divider; at position 0 the output is shorted."""
        return Divider(self.track, fraction(self.position, self.taper))


@stage_kind("pad")
@dataclass(frozen=True, kw_only=True)
class Pad(PassiveStage):
    """A series resistance, then a shunt resistance."""

    series_resistance: Value = quantity("resistance", "in series", 0.0)
    shunt_resistance: Value | None = quantity(
        "resistance", "to ground behind it (none = open)", None, above_zero=True
    )

    def network(self, jw: ComplexArray) -> Step:
        """Return the pad."""
        Y = 0.0 if self.shunt_resistance is None else 1 / self.shunt_resistance
        return series(self.series_resistance).then(shunt(Y))


@stage_kind("transformer")
@dataclass(frozen=True, kw_only=True)
class Transformer(PassiveStage):
    """A step-down transformer with winding resistances and magnetising inductance."""

    ratio: Value = quantity("ratio", "primary to secondary turns", 1.0, above_zero=True)
    primary_resistance: Value = quantity("resistance", "of the primary winding", 0.0)
    primary_inductance: Value | None = quantity(
        "inductance", "magnetising, to ground (none = ideal)", None, above_zero=True
    )
    secondary_resistance: Value = quantity("resistance", "of the secondary winding", 0.0)
    winding_capacitance: Value = quantity("capacitance", "across the input", 0.0)
    leakage_inductance: Value = quantity("inductance", "in series, before the magnetising one", 0.0)

    def network(self, jw: ComplexArray) -> Step:
        """Return it from the winding capacitance to the secondary resistance."""
        Y = 0.0 if self.primary_inductance is None else 1 / (jw * self.primary_inductance)
        ideal = TwoPort(self.ratio, 0.0, 0.0, 1 / self.ratio)
        winding = shunt(jw * self.winding_capacitance)
        leading = series(self.primary_resistance + jw * self.leakage_inductance)
        primary = winding.then(leading).then(shunt(Y))
        return primary.then(ideal).then(series(self.secondary_resistance))

    def shunt_capacitance(self, on: bool) -> Value:
        """Return the capacitance [F] of its winding, or of its wiring while it is off."""
        return self.winding_capacitance if on else self.wiring_capacitance

    def resistive(self) -> Transformer:
        """Leave out the magnetising inductance, which would short everything at 0 Hz."""
        return dataclasses.replace(self, primary_inductance=None)
