"""A branch across the line that the signal does not pass through."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from sigsim.items.base import Item
from sigsim.items.fields import flag, quantity, text
from sigsim.items.inputs import STOPPER, STOPPER_NEED, Input
from sigsim.items.needs import Need
from sigsim.physics.source import shunt

if TYPE_CHECKING:
    from sigsim.items.cable import Cable
    from sigsim.physics.arrays import ComplexArray, Value
    from sigsim.physics.source import TwoPort


@dataclass(frozen=True, kw_only=True)
class Tap(Item):
    """A tuner output, or a cable left plugged in: its cable and what is at its far end."""

    key: ClassVar[str] = "tap"

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
    input_series_resistance: Value = quantity(
        "resistance",
        "a stopper in series before that capacitance",
        0.0,
        usually_kilohms=True,
    )

    needs: ClassVar[tuple[Need, ...]] = (
        Need(
            ("input_resistance", "input_capacitance", STOPPER),
            ("open",),
            "an open end has nothing plugged in",
            words=(False,),
        ),
        STOPPER_NEED,
    )

    @property
    def input(self) -> Input:
        """What is plugged in, as a circuit."""
        R, C = self.input_resistance, self.input_capacitance
        return Input(R, C, stopper=self.input_series_resistance)

    def step(self, jw: ComplexArray, on: bool) -> TwoPort:
        """Return the branch as a shunt admittance."""
        return shunt(self.cable.line(jw).admittance(self.input.load(jw).Y))

    def shunt_capacitance(self, on: bool) -> Value:
        """Return the capacitance [F] of the cable and what is plugged in."""
        return self.cable.shunt_capacitance() + self.input_capacitance
