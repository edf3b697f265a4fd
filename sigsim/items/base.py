"""What every item of a chain offers, and the registry of stage kinds."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Protocol, TypeVar

import numpy as np

from sigsim.physics.source import TwoPort, wire

if TYPE_CHECKING:
    from sigsim.physics.arrays import ComplexArray, Value
    from sigsim.physics.source import Step


class Item(Protocol):
    """One thing in a chain, seen by whatever walks a source through it."""

    @property
    def label(self) -> str:
        """What a person calls it."""

    @property
    def switch(self) -> str | None:
        """The name by which it is switched, None if it cannot be."""

    def step(self, jw: ComplexArray, on: bool) -> Step:
        """Return what it does to a source at jω [rad/s]."""

    def isolates(self, on: bool) -> bool:
        """Whether what follows no longer sees what came before."""

    def in_ideal(self, on: bool) -> bool:
        """Whether the ideal reference keeps it."""

    def shunt_capacitance(self, on: bool) -> Value:
        """Return the capacitance [F] it puts across the line, for the hand check."""

    def load_capacitance(self, on: bool) -> Value:
        """Return the capacitance [F] that its input, where it isolates, puts across the line."""

    def resistive(self) -> Item:
        """Return itself with coupling capacitors closed and magnetising inductances open.

        What is left at 0 Hz then is the resistance that a hand calculation starts from.
        """


class StageKind(Protocol):
    """A class of stages, made from the keys it declares."""

    kind: str


_Stage = TypeVar("_Stage", bound=type)

STAGE_KINDS: dict[str, type] = {}


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
