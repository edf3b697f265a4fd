"""A switched group of items: a loop of a loop switcher, a patch-bay insert, a second board."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, ClassVar, Final

from sigsim.items.base import Placed, bypassed
from sigsim.items.fields import Spec, quantity, text
from sigsim.physics.pot import Divider

if TYPE_CHECKING:
    from sigsim.items.base import Item
    from sigsim.items.cable import Cable, Lays
    from sigsim.items.split import Split
    from sigsim.physics.arrays import ComplexArray, Value
    from sigsim.physics.source import Step


# What a loop may say of the board of another file that is inside, beside its own keys.
BOARD_SPECS: Final[Mapping[str, Spec]] = {
    "board": Spec("path", "the file of the board that is inside, by its path from this file"),
    "prefix": Spec("text", "what stands before every name of that board here"),
    "lead_out": Spec("laid cable", "the cable from the send to that board, in place of its first"),
    "lead_back": Spec("laid cable", "the cable from there to the return, in place of its last"),
}


@dataclass(frozen=True, kw_only=True)
class Loop(Placed):
    """A loop; as a step of its own it is what remains when it is out.

    Attributes
    ----------
    board : the path of the board file that is inside, empty for none
    board_title : what that board is called
    wiring : the cable between the things of that board where it names none; None for none
    lays : knows the lengths that follow from the layout of that board; None without one
    """

    key: ClassVar[str] = "loop"

    loop: str = text("its name")
    inside: tuple[Item, ...]
    contact_resistance: Value = quantity("resistance", "of the switch, in series when out", 0.0)
    wiring_capacitance: Value = quantity("capacitance", "of the wiring to ground when out", 0.0)
    board: str = ""
    board_title: str = field(default="", compare=False)
    wiring: Cable | None = None
    lays: Lays | None = field(default=None, compare=False, repr=False)

    @property
    def switch(self) -> str:
        """The loop's name."""
        return self.loop

    @property
    def outside(self) -> tuple[Split, ...]:
        """What is met in its place while it is out, behind what remains of it."""
        return ()

    def step(self, jw: ComplexArray, on: bool) -> Step:
        """Return what remains of the loop when it is out."""
        return bypassed(jw, self.contact_resistance, self.wiring_capacitance)

    def shunt_capacitance(self, on: bool) -> Value:
        """Return the capacitance [F] that remains when it is out."""
        return self.wiring_capacitance


@dataclass(frozen=True, kw_only=True)
class LoopToEnd(Loop):
    """A loop seen from the end of a split inside it: nothing arrives there while it is out.

    Attributes
    ----------
    others : what follows the loop on other ways; unheard, but its switches still make states
    """

    others: tuple[Split, ...]

    @property
    def outside(self) -> tuple[Split, ...]:
        """The other ways."""
        return self.others

    def step(self, jw: ComplexArray, on: bool) -> Step:
        """Return silence."""
        return Divider(1.0, 0.0)

    def shunt_capacitance(self, on: bool) -> Value:
        """Nothing is left to be seen."""
        return 0.0
