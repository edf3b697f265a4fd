"""What a plot of the cables shows: every cable in every role, and the worst loss over length."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.decide.cables.limit import losses_at
from sigsim.decide.cables.report import CableQuestion, CablesReport, RoleReport
from sigsim.physics.arrays import scalar

if TYPE_CHECKING:
    from sigsim.physics.arrays import FloatArray

_POINTS: Final = 121
# The lengths go up to this many times the longest role, and at least so far [m].
_TIMES: Final = 2.0
_LEAST_M: Final = 10.0


@dataclass(frozen=True)
class Mark:
    """One cable on the curve of a role.

    Attributes
    ----------
    name : of the cable
    now : whether it is the one now used
    capacitance : [F/m]
    loss : the worst treble loss with all its figures [dB]
    """

    name: str
    now: bool
    capacitance: float
    loss: float


@dataclass(frozen=True)
class RoleCurves:
    """The curves of one role.

    Attributes
    ----------
    name : of the role
    counts_lead : whether the losses of its cables count the instrument's own lead
    only_lead : whether it is nothing but this lead, so that the loss over length counts it too
    marks : the cables
    length : of all pieces that vary together [m]; loss_over_length : of the cable now used [dB]
    length_now, loss_now : as the board is
    """

    name: str
    counts_lead: bool
    only_lead: bool
    marks: tuple[Mark, ...]
    length: FloatArray
    loss_over_length: FloatArray
    length_now: float
    loss_now: float


@dataclass(frozen=True)
class CableCurves:
    """What a plot of the cables shows: the question and the curves by role."""

    question: CableQuestion
    roles: tuple[RoleCurves, ...]


def cable_curves(report: CablesReport) -> CableCurves:
    """Return the curves for every role of a report."""
    longest = max(_LEAST_M, _TIMES * max(sum(r.role.varying) for r in report.roles))
    length = np.linspace(0.0, longest, _POINTS)
    return CableCurves(
        report.question,
        tuple(_curves(report.question, role, length) for role in report.roles),
    )


def _curves(question: CableQuestion, report: RoleReport, length: FloatArray) -> RoleCurves:
    role, now = report.role, report.now
    total = sum(role.varying)
    # Over its total length: the longest piece keeps its share of it.
    share = role.longest / total if total else 1 / len(role.varying)
    lengths = np.append(share * length, role.longest)
    over_length = losses_at(question.board, role, [role.spec], lengths[None, :], question.basis)[0]
    return RoleCurves(
        name=role.name,
        counts_lead=now.with_lead is not None,
        only_lead=role.only_lead,
        marks=tuple(
            Mark(c.candidate.name, c.now, scalar(c.candidate.spec.capacitance), c.counted)
            for c in report.choices
        ),
        length=length,
        loss_over_length=over_length[:-1],
        length_now=total,
        loss_now=float(over_length[-1]),
    )
