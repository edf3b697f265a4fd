"""Inputs: of powered stages, of the destination, of what a tap is plugged into."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

from sigsim.items.needs import Need
from sigsim.physics.source import Load, capacitor

if TYPE_CHECKING:
    from sigsim.physics.arrays import ComplexArray, Impedance, Value

STOPPER: Final = "input_series_resistance"
STOPPER_NEED: Final = Need(
    (STOPPER,),
    ("input_capacitance",),
    "a stopper acts on the capacitance behind it, and there is none",
)


class Input(NamedTuple):
    """An input as a circuit, from its terminals inwards.

    Attributes
    ----------
    resistance : to ground [Ω], None for an open one
    capacitance : to ground [F]; what is across it is amplified
    capacitor : in series before both [F], None for a wire
    stopper : in series between the two [Ω]
    """

    resistance: Value | None
    capacitance: Value
    capacitor: Value | None = None
    stopper: Value = 0.0

    def load(self, jw: ComplexArray) -> Load:
        """Return it as what ends a run, at jω [rad/s]."""
        Y: Impedance = jw * self.capacitance
        share: Impedance | None = None
        if not _nothing(self.stopper):
            share = 1 / (1 + self.stopper * Y)
            Y = Y * share
        if self.resistance is not None:
            Y = 1 / self.resistance + Y
        if self.capacitor is not None:
            passed = 1 / (1 + Y * self.in_series(jw))
            Y, share = Y * passed, passed if share is None else passed * share
        return Load(Y, share)

    def in_series(self, jw: ComplexArray) -> Impedance:
        """Return the impedance [Ω] of the capacitor before it."""
        return 0.0 if self.capacitor is None else capacitor(jw, self.capacitor)


def _nothing(value: Value) -> bool:
    return isinstance(value, float | int) and value == 0
