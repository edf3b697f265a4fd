"""The curves that a plot of a loss report shows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.metrics import AUDIBLE_HZ
from sigsim.states.response import Response, Solver, grid

if TYPE_CHECKING:
    from sigsim.board.state import On
    from sigsim.decide.loss.report import LossReport
    from sigsim.physics.arrays import FloatArray

# References closer than this [dB] are one line on paper.
_SAME_DB: Final = 0.02
# What a plot shows [Hz].
DRAWN: Final = grid(*AUDIBLE_HZ, 400)


@dataclass(frozen=True)
class NamedCurve:
    """One state's curves.

    Attributes
    ----------
    name : of the state
    frequency : [Hz], shape (frequency,)
    gain : [dB]
    loss : [dB]
    reference : gain of the reference [dB], None if an earlier curve has the same
    on : the names of what is on
    """

    name: str
    frequency: FloatArray
    gain: FloatArray
    loss: FloatArray
    reference: FloatArray | None
    on: On = ()


def loss_curves(report: LossReport, *, with_worst: bool = True) -> tuple[NamedCurve, ...]:
    """Return the curves of a report's states, each different state and reference once.

    They come in the order of the report, the worst of all states last and marked as such if it
    was asked for.
    """
    solver = Solver(report.board)
    references: list[FloatArray] = []
    curves = []
    for name, on in _different(report, with_worst=with_worst):
        r = Response(solver, on, DRAWN, report.basis.reference)
        reference = r.reference.gain_db
        known = any(np.allclose(reference, other, atol=_SAME_DB) for other in references)
        references.append(reference)
        shown = None if known else reference
        curves.append(NamedCurve(name, DRAWN, r.gain_db, r.loss_db, shown, on))
    return tuple(curves)


def _different(report: LossReport, *, with_worst: bool) -> list[tuple[str, On]]:
    """Return the states without those that repeat another."""
    heard = report.board.heard
    names: dict[On, str] = {}
    for state in (measured.state for measured in report.states):
        on = heard(state.on)
        names[on] = f"{names[on]}, {state.title}" if on in names else state.title
    if with_worst:
        worst = report.worst.state
        names[heard(worst.on)] = f"{names.get(heard(worst.on), worst.title)} (worst)"
    return [(name, on) for on, name in names.items()]
