"""Where the chain ends."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

import numpy as np

from sigsim.items.fields import Declared, quantity, text
from sigsim.items.inputs import STOPPER_NEED, Input

if TYPE_CHECKING:
    from sigsim.items.needs import Need
    from sigsim.physics.arrays import ComplexArray, Value
    from sigsim.physics.source import Load


@dataclass(frozen=True, kw_only=True)
class Destination(Declared):
    """The input that reads the signal: amplifier, interface, DI, mixer."""

    name: str = text("what it is", "amp")
    input_resistance: Value | None = quantity(
        "resistance", "of its input (none = open)", None, above_zero=True, usually_kilohms=True
    )
    input_capacitance: Value = quantity("capacitance", "across its input", 0.0)

    input_series_resistance: Value = quantity(
        "resistance",
        "a stopper in series before the capacitance, behind which the signal is read",
        0.0,
        usually_kilohms=True,
    )

    needs: ClassVar[tuple[Need, ...]] = (STOPPER_NEED,)

    @property
    def input(self) -> Input:
        """Its input as a circuit."""
        R, C = self.input_resistance, self.input_capacitance
        return Input(R, C, stopper=self.input_series_resistance)

    def load(self, jw: ComplexArray) -> Load:
        """Return what the chain ends in, at jω [rad/s]."""
        return self.input.load(jw)

    @property
    def open(self) -> bool:
        """Whether nothing is there."""
        return self.input_resistance is None and not np.any(self.input_capacitance)
