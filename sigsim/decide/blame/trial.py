"""A state in which anything can be made ideal: what is then left, many variants at once."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim import metrics
from sigsim.decide.blame.parts import DESTINATION, Suspect
from sigsim.physics.source import Load, Source

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sigsim.board.state import On
    from sigsim.metrics import Basis
    from sigsim.physics.arrays import ComplexArray, FloatArray
    from sigsim.physics.source import Step
    from sigsim.states.response import Solver

    Rows = NDArray[np.bool_]

# Variants solved at once: few enough for the processor's cache.
_AT_ONCE: Final = 64


@dataclass(frozen=True)
class Outcome:
    """The numbers of a board with something made ideal.

    Attributes
    ----------
    treble_loss : against the same reference as the whole board's [dB]
    level : at 100 Hz [dB]
    corner : [Hz] or None
    """

    treble_loss: float
    level: float
    corner: float | None


class Trial:
    """A state in which any suspects can be made ideal.

    The reference of the loss is computed once and stays, whatever is made ideal.

    Parameters
    ----------
    solver : of the board
    parts : all that can be made ideal, in the order in which the signal meets it
    on : the names of what is on
    basis : what a loss is measured against and over
    """

    def __init__(self, solver: Solver, parts: Sequence[Suspect], on: On, basis: Basis) -> None:
        self.solver, self.parts = solver, parts
        self.frequency = basis.frequency
        circuit = solver.circuit(self.frequency)
        self.wanted = metrics.decibels(circuit.reference(on, basis.reference))
        self._outcomes: dict[frozenset[int], Outcome] = {}

    def solve(self, variants: Iterable[frozenset[int]]) -> None:
        """Find the numbers of variants, each the suspects that stay real, before they are asked."""
        new = [real for real in dict.fromkeys(variants) if real not in self._outcomes]
        for start in range(0, len(new), _AT_ONCE):
            some = new[start : start + _AT_ONCE]
            self._outcomes.update(zip(some, self._solved(some), strict=True))

    def outcome(self, real: frozenset[int]) -> Outcome:
        """Return the numbers of the board with some suspects real and all others ideal."""
        self.solve([real])
        return self._outcomes[real]

    def _solved(self, variants: Sequence[frozenset[int]]) -> list[Outcome]:
        real = np.array([[i in v for i in range(len(self.parts))] for v in variants], dtype=bool)
        rows = _Variants(self, real.reshape(len(variants), -1))
        losses = metrics.treble_loss_of(self.wanted, metrics.decibels(rows(self.frequency)))
        found = losses, metrics.levels(rows), metrics.corners(rows)
        numbers = zip(*(values.tolist() for values in found), strict=True)
        return [Outcome(t, level, None if math.isnan(c) else c) for t, level, c in numbers]


class _Variants:
    """The response of a state with some suspects real and all others ideal, a variant a row."""

    def __init__(self, trial: Trial, real: Rows) -> None:
        self.trial, self.real = trial, real

    def __call__(self, frequency: FloatArray) -> ComplexArray:
        circuit = self.trial.solver.circuit(frequency)
        shape = (len(self.real), frequency.shape[-1])
        source = Source(*(np.broadcast_to(x, shape) for x in circuit.start))
        load = circuit.load
        with np.errstate(all="ignore"):
            for part, real in zip(self.trial.parts, self.real.T, strict=True):
                if part.group == DESTINATION:
                    ended, opened = load.reads(source), Load(0.0).reads(source)
                    return np.where(real[:, None], ended, opened)
                for item, rows in ((part.real, real), (part.ideal, ~real)):
                    if item is not None and rows.any():
                        source = _driven(circuit.step(item, part.on), source, rows)
            return np.asarray(load.reads(source), dtype=complex)


def _driven(step: Step, source: Source, rows: Rows) -> Source:
    """Return a source of which some rows have gone through a step."""
    behind = step.drive(source)
    if rows.all():
        shape = np.shape(source.E)
        return Source(*(np.broadcast_to(one, shape) for one in behind))
    return Source(
        *(np.where(rows[:, None], new, old) for new, old in zip(behind, source, strict=True))
    )
