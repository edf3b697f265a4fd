"""A branch across the line that the signal does not pass through."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from sigsim.items.fields import Declared, flag, quantity, text
from sigsim.physics.source import shunt

if TYPE_CHECKING:
    from sigsim.items.cable import Cable
    from sigsim.physics.arrays import ComplexArray, Value
    from sigsim.physics.source import Step


@dataclass(frozen=True, kw_only=True)
class Tap(Declared):
    """A tuner output, or a cable left plugged in: its cable and what is at its far end."""

    tap: str = text("its name")
    cable: Cable
    open: bool = flag("nothing is plugged in at the far end", False)
    input_resistance: Value | None = quantity(
        "resistance",
        "of what is plugged in (none = open)",
        None,
        above_zero=True,
        usually_kilohms=True,
    )
    input_capacitance: Value = quantity("capacitance", "across what is plugged in", 0.0)

    switch: ClassVar[None] = None

    @property
    def label(self) -> str:
        """The tap's name."""
        return self.tap

    def step(self, jw: ComplexArray, on: bool) -> Step:
        """Return the branch as a shunt admittance."""
        Y = jw * self.input_capacitance
        if self.input_resistance is not None:
            Y = Y + 1 / self.input_resistance
        return shunt(self.cable.line(jw).admittance(Y))

    def isolates(self, on: bool) -> bool:
        """Never."""
        return False

    def in_ideal(self, on: bool) -> bool:
        """The ideal reference has no taps."""
        return False

    def shunt_capacitance(self, on: bool) -> Value:
        """Return the capacitance [F] of the cable and what is plugged in."""
        return self.cable.shunt_capacitance(True) + self.input_capacitance

    def load_capacitance(self, on: bool) -> Value:
        """A tap has no input in the line."""
        return 0.0

    def resistive(self) -> Tap:
        """It holds no coupling part."""
        return self
