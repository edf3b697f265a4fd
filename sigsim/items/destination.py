"""Where the chain ends."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sigsim.items.fields import Declared, quantity, text

if TYPE_CHECKING:
    from sigsim.physics.arrays import ComplexArray, Impedance, Value


@dataclass(frozen=True, kw_only=True)
class Destination(Declared):
    """The input that reads the signal: amplifier, interface, DI, mixer."""

    name: str = text("what it is", "amp")
    input_resistance: Value | None = quantity(
        "resistance", "of its input (none = open)", None, above_zero=True, usually_kilohms=True
    )
    input_capacitance: Value = quantity("capacitance", "across its input", 0.0)

    @property
    def open(self) -> bool:
        """Whether nothing is there."""
        return self.input_resistance is None and not np.any(self.input_capacitance)

    def admittance(self, jw: ComplexArray) -> Impedance:
        """Return the input admittance [S] at jω [rad/s]."""
        Y: Impedance = jw * self.input_capacitance
        return Y if self.input_resistance is None else Y + 1 / self.input_resistance
