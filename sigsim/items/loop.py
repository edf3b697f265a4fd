"""A switched group of items: a loop of a loop switcher, a patch-bay insert, a second board."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from sigsim.items.base import Item, bypassed
from sigsim.items.fields import quantity, text

if TYPE_CHECKING:
    from sigsim.physics.arrays import ComplexArray, Value
    from sigsim.physics.source import TwoPort


@dataclass(frozen=True, kw_only=True)
class Loop(Item):
    """A loop; as a step of its own it is what remains when it is out."""

    key: ClassVar[str] = "loop"

    loop: str = text("its name")
    inside: tuple[Item, ...]
    contact_resistance: Value = quantity("resistance", "of the switch, in series when out", 0.0)
    wiring_capacitance: Value = quantity("capacitance", "of the wiring to ground when out", 0.0)

    @property
    def switch(self) -> str:
        """The loop's name."""
        return self.loop

    def step(self, jw: ComplexArray, on: bool) -> TwoPort:
        """Return what remains of the loop when it is out."""
        return bypassed(jw, self.contact_resistance, self.wiring_capacitance)

    def shunt_capacitance(self, on: bool) -> Value:
        """Return the capacitance [F] that remains when it is out."""
        return self.wiring_capacitance
