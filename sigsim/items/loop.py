"""A switched group of items: a loop of a loop switcher, a patch-bay insert, a second board."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sigsim.items.base import bypassed
from sigsim.items.fields import Declared, quantity, text

if TYPE_CHECKING:
    from sigsim.items.base import Item
    from sigsim.physics.arrays import ComplexArray, Value
    from sigsim.physics.source import Step


@dataclass(frozen=True, kw_only=True)
class Loop(Declared):
    """A loop; as a step of its own it is what remains when it is out."""

    loop: str = text("its name")
    inside: tuple[Item, ...]
    contact_resistance: Value = quantity("resistance", "of the switch, in series when out", 0.0)
    wiring_capacitance: Value = quantity("capacitance", "of the wiring to ground when out", 0.0)

    @property
    def label(self) -> str:
        """The loop's name."""
        return self.loop

    @property
    def switch(self) -> str:
        """The loop's name."""
        return self.loop

    def step(self, jw: ComplexArray, on: bool) -> Step:
        """Return what remains of the loop when it is out."""
        return bypassed(jw, self.contact_resistance, self.wiring_capacitance)

    def isolates(self, on: bool) -> bool:
        """A loop that is out never isolates."""
        return False

    def in_ideal(self, on: bool) -> bool:
        """The ideal reference has no loop that is out."""
        return False

    def shunt_capacitance(self, on: bool) -> Value:
        """Return the capacitance [F] that remains when it is out."""
        return self.wiring_capacitance

    def load_capacitance(self, on: bool) -> Value:
        """A loop has no input of its own."""
        return 0.0

    def resistive(self) -> Loop:
        """It holds no coupling part."""
        return self
