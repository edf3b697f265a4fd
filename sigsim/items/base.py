"""What every item of a chain offers, with what holds for most of them, and what every stage has."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Final, TypeVar

import numpy as np

from sigsim.items.fields import Declared, choice, flag, names
from sigsim.items.layout import Outlined
from sigsim.physics.source import TwoPort, wire

if TYPE_CHECKING:
    from typing import Self

    from sigsim.physics.arrays import ComplexArray, Value
    from sigsim.physics.source import Step

# The order in which players usually put things; common practice, no source.
CUSTOM: Final = (
    "tuner",
    "filter",
    "compressor",
    "drive",
    "preamp",
    "volume",
    "modulation",
    "delay",
    "reverb",
)
# What a stage may be; a buffer and what is nothing of all this have no place in the custom.
ROLES: Final = (*CUSTOM, "buffer", "other")


@dataclass(frozen=True, kw_only=True)
class Item(Declared):
    """One thing in a chain, seen by whatever walks a source through it.

    Not an ABC at run time: that makes `isinstance`, which every walk asks of every item, slow.

    Attributes
    ----------
    key : the key of a board file that says what it is and names it
    """

    key: ClassVar[str]

    @property
    def label(self) -> str:
        """What a person calls it: its name in the board file."""
        return str(getattr(self, self.key))

    @property
    def switch(self) -> str | None:
        """The name by which it is switched, None if it cannot be."""
        return None

    @abstractmethod
    def step(self, jw: ComplexArray, on: bool) -> Step:
        """Return what it does to a source at jω [rad/s]."""

    def isolates(self, on: bool) -> bool:
        """Whether what follows no longer sees what came before."""
        return False

    def in_ideal(self, on: bool) -> bool:
        """Whether the ideal reference keeps it."""
        return False

    def divides(self, on: bool) -> bool:
        """Whether what lies before it and behind it see different resistances."""
        return False

    def shunt_capacitance(self, on: bool) -> Value:
        """Return the capacitance [F] it puts across the line, for the hand check."""
        return 0.0

    def load_capacitance(self, on: bool) -> Value:
        """Return the capacitance [F] that its input, where it isolates, puts across the line."""
        return 0.0

    def resistive(self) -> Self:
        """Return it with coupling capacitors closed and magnetising inductances open.

        What is left at 0 Hz then is the resistance that a hand calculation starts from.
        """
        return self


@dataclass(frozen=True, kw_only=True)
class Placed(Item):
    """What has a place among others of its level: a stage, or a loop with all that is in it."""

    before: tuple[str, ...] = names("the stages and loops that stay behind it in any order")
    after: tuple[str, ...] = names("the stages and loops that stay before it in any order")
    fixed: bool = flag("it keeps its number among the boxes of its level in any order", False)


@dataclass(frozen=True, kw_only=True)
class _Playing(Placed, Outlined):
    """A box that does one thing."""

    role: str = choice("what it is on a board; the custom goes by it", ROLES, "")


class Stage(_Playing):
    """What all stages share; each kind declares its keys in an order of its own."""

    key: ClassVar[str] = "stage"

    stage: str
    always_on: bool
    contact_resistance: Value
    wiring_capacitance: Value

    @property
    def switch(self) -> str | None:
        """The stage's name, None if it is always on."""
        return None if self.always_on else self.stage

    def in_ideal(self, on: bool) -> bool:
        """The ideal reference keeps what is on."""
        return on

    def bypassed(self, jw: ComplexArray) -> TwoPort:
        """Return its mechanical bypass at jω [rad/s]."""
        return bypassed(jw, self.contact_resistance, self.wiring_capacitance)


_Stage = TypeVar("_Stage", bound=type[Stage])

STAGE_KINDS: dict[str, type[Stage]] = {}


def stage_kind(name: str) -> Callable[[_Stage], _Stage]:
    """Register a class under the word that `kind = "…"` takes in a board file."""

    def register(stage: _Stage) -> _Stage:
        STAGE_KINDS[name] = stage
        return stage

    return register


def bypassed(jw: ComplexArray, contact_resistance: Value, wiring_capacitance: Value) -> TwoPort:
    """Return a mechanical bypass: contact resistance in series, then wiring to ground.

    Parameters
    ----------
    jw : jω [rad/s]
    contact_resistance : [Ω]
    wiring_capacitance : [F]

    Returns
    -------
    TwoPort
    """
    if not np.any(wiring_capacitance) and not np.any(contact_resistance):
        return wire()
    Y = jw * wiring_capacitance
    return TwoPort(1 + contact_resistance * Y, contact_resistance, Y, 1.0)
