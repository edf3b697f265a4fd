"""The output of a powered stage as an instrument, for the part of a chain behind it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, ClassVar

import numpy as np

from sigsim.items.fields import Declared
from sigsim.physics.source import Source

if TYPE_CHECKING:
    from sigsim.items.stage import ActiveStage
    from sigsim.physics.arrays import ComplexArray, Value


@dataclass(frozen=True, kw_only=True)
class OutputOf(Declared):
    """The output of a stage that is on, as the source of what follows."""

    stage: ActiveStage

    has_coil: ClassVar[bool] = False

    def source(self, jw: ComplexArray) -> Source:
        """Return 1 V behind the stage's output impedance, at jω [rad/s]."""
        return Source(np.ones_like(jw), self.stage.output(True).impedance(jw))

    def winding(self) -> tuple[Value, Value]:
        """Return no inductance and no capacitance."""
        return 0.0, 0.0

    def resistive(self) -> OutputOf:
        """Close the coupling capacitors."""
        return replace(self, stage=self.stage.resistive())
