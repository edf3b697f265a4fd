"""A power supply: its outputs, and the battery that it may run on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar, Final, Literal, NamedTuple, TypeAlias

from sigsim.items.feeding import CENTRE_NEGATIVE, POLARITIES, USUAL_VOLTAGE
from sigsim.items.fields import Declared, Spec, battery, choice, flag, quantity
from sigsim.items.needs import Need

Unit: TypeAlias = Literal["Wh", "Ah"]

# What a supply has beside its own keys.
OUTPUT_SPECS: Final[Mapping[str, Spec]] = {
    "outputs": Spec("outputs", "what it gives at each of its outputs, in the order of its jacks"),
}


class Battery(NamedTuple):
    """What is in a battery.

    Attributes
    ----------
    amount : how much [`unit`]
    unit : watt-hours, or ampere-hours at the voltage of its cells
    """

    amount: float
    unit: Unit


@dataclass(frozen=True, kw_only=True)
class Output(Declared):
    """One output of a supply."""

    current: float = quantity("current", "it can give", above_zero=True, exact=True)
    voltage: tuple[float, ...] = quantity(
        "supply voltage",
        "it gives; a list where it can be switched",
        (USUAL_VOLTAGE,),
        above_zero=True,
        several="some",
    )
    polarity: str = choice("of its plug", POLARITIES, CENTRE_NEGATIVE)


@dataclass(frozen=True, kw_only=True)
class Supply(Declared):
    """A supply with its outputs.

    Attributes
    ----------
    name : of it
    outputs : in the order of the file
    """

    name: str
    outputs: tuple[Output, ...]
    isolated: bool = flag("no two of its outputs have anything in common", False)
    battery: Battery | None = battery("what it runs on; none for mains")
    battery_voltage: float | None = quantity(
        "supply voltage", "of the battery's cells, for ampere-hours", None, above_zero=True,
        exact=True,
    )  # fmt: skip
    # From memory, common practice: what the converter of a pack leaves.
    efficiency: float = quantity(
        "share", "of the battery that its converter leaves", 0.85, above_zero=True,
        exact=True,
    )  # fmt: skip

    needs: ClassVar[tuple[Need, ...]] = (
        Need(
            ("battery_voltage", "efficiency"),
            ("battery",),
            "it counts for a battery, and there is none",
        ),
    )

    @property
    def energy(self) -> float | None:
        """What its outputs get from a full battery [Wh], None without one."""
        if self.battery is None:
            return None
        volts = 1.0 if self.battery.unit == "Wh" else self.battery_voltage or 0.0
        return self.battery.amount * volts * self.efficiency

    def output_name(self, index: int) -> str:
        """Return what an output is called: the supply and its number from 1."""
        return output_name(self.name, index)


def output_name(supply: str, index: int) -> str:
    """Return what an output of a supply is called; `index` is from 0."""
    return f"{supply} {index + 1}"
