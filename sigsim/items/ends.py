"""A chain cut at a powered stage: its output as an instrument, its input as a destination."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, ClassVar

import numpy as np

from sigsim.physics.source import Isolator, Source

if TYPE_CHECKING:
    from sigsim.items.stage import ActiveStage
    from sigsim.physics.arrays import ComplexArray, Impedance, Value


@dataclass(frozen=True)
class OutputOf:
    """The output of a stage that is on, as the source of what follows."""

    stage: ActiveStage

    has_coil: ClassVar[bool] = False

    def source(self, jw: ComplexArray) -> Source:
        """Return 1 V behind the stage's output impedance, at jω [rad/s]."""
        step = self.stage.step(jw, True)
        assert isinstance(step, Isolator)
        return Source(np.ones_like(jw), step.Z)

    def winding(self) -> tuple[Value, Value]:
        """Return no inductance and no capacitance."""
        return 0.0, 0.0

    def resistive(self) -> OutputOf:
        """Close the coupling capacitors."""
        return replace(self, stage=self.stage.resistive())


@dataclass(frozen=True)
class InputOf:
    """The input of a stage that is on, as the destination of what comes before."""

    stage: ActiveStage

    @property
    def name(self) -> str:
        """The stage's name."""
        return self.stage.stage

    @property
    def input_capacitance(self) -> Value:
        """The capacitance [F] across the input."""
        return self.stage.load_capacitance(True)

    def admittance(self, jw: ComplexArray) -> Impedance:
        """Return the input admittance [S] at jω [rad/s]."""
        step = self.stage.step(jw, True)
        assert isinstance(step, Isolator)
        return step.Y
