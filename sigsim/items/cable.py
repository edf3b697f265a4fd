"""A cable: a distributed line with a plug at each end."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, ClassVar, Protocol

from sigsim.items.base import Item
from sigsim.items.fields import Declared, quantity, text
from sigsim.items.needs import Need
from sigsim.physics.line import Line, line
from sigsim.physics.source import TwoPort, shunt

if TYPE_CHECKING:
    from sigsim.layout.model import Socket
    from sigsim.physics.arrays import ComplexArray, Value


class Lays(Protocol):
    """What knows how long a cable is, by what it lies between."""

    def laid(self, cable: Cable, begin: Socket | None, end: Socket | None) -> Cable | None:
        """Return the cable between two places with its length, None where none belongs."""


@dataclass(frozen=True, kw_only=True)
class CableSpec(Declared):
    """What is bought by the metre."""

    capacitance: Value = quantity("capacitance per length", "inner to screen", 0.0)
    resistance: Value = quantity("resistance per length", "inner and screen, there and back", 0.0)
    inductance: Value = quantity("inductance per length", "there and back", 0.0)
    loss_tangent: Value = quantity("ratio", "of the insulation", 0.0)
    plug_capacitance: Value = quantity("capacitance", "of the plug and jack at each end", 0.0)
    # How it is sold changes nothing of what it does.
    sold: tuple[float, ...] = quantity(
        "length",
        "the ready-made lengths that it comes in; without them it is cut to length",
        (),
        above_zero=True,
        several="rising",
        compare=False,
    )

    needs: ClassVar[tuple[Need, ...]] = (
        Need(
            ("loss_tangent",),
            ("capacitance",),
            "an insulation without capacitance loses nothing",
        ),
    )


@dataclass(frozen=True, kw_only=True)
class Cable(Item):
    """A length of cable between two neighbours.

    Attributes
    ----------
    spec : what its name stands for
    is_lead : whether it is the instrument's own lead; the wired chain of a board says so
    lays : knows its length where the file gives none (then `length` is 0), and what needs no wire;
        in the wired chain of a board every cable has its length, and this is None
    """

    key: ClassVar[str] = "cable"

    cable: str = text("its name under [cables]")
    length: Value = quantity("length", "of the cable")
    spec: CableSpec
    is_lead: bool = False
    lays: Lays | None = field(default=None, compare=False, repr=False)

    def line(self, jw: ComplexArray) -> Line:
        """Return the cable with its plugs as one line at jω [rad/s]."""
        spec = self.spec
        bare = line(
            jw, spec.resistance, spec.inductance, spec.capacitance, spec.loss_tangent, self.length
        )
        plug: TwoPort = shunt(jw * spec.plug_capacitance)
        return Line(plug.then(bare.scaled).then(plug), bare.decay)

    def step(self, jw: ComplexArray, on: bool) -> Line:
        """Return the cable as a step; it has no switch."""
        return self.line(jw)

    def in_ideal(self, on: bool) -> bool:
        """Only the instrument's own lead stays in the ideal reference."""
        return self.is_lead

    def shunt_capacitance(self, on: bool = True) -> Value:
        """Return the capacitance [F] of the whole length and both plugs."""
        return self.spec.capacitance * self.length + 2 * self.spec.plug_capacitance
