"""Which cable to use where: every cable in every role of a board, exactly over all states."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.decide.cables.candidates import Candidate, tried_as
from sigsim.decide.cables.limit import (
    EVALUATIONS,
    Limit,
    Role,
    limits,
    losses_at,
    role_of,
    shown_over,
)
from sigsim.decide.cables.variants import Variants
from sigsim.decide.folding import as_level, folded
from sigsim.decide.limits import refuse_beyond
from sigsim.errors import SigsimError, UnreachableError
from sigsim.metrics import NOTICED_DB, USUAL_BASIS, Basis
from sigsim.physics.arrays import scalar

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.decide.cables.limit import Progress
    from sigsim.decide.folding import Fold
    from sigsim.decide.loss.report import StateReport

# A smaller difference [dB] shows as 0.0.
_SHOWN_DB: Final = 0.05
# Cables with less difference in capacitance are of one sort.
_MORE: Final = 1.1


@dataclass(frozen=True)
class CableQuestion:
    """What is asked about the cables of a board.

    Attributes
    ----------
    board : the board
    basis : what a loss is measured against and over
    limit : of the worst treble loss [dB] for which lengths are looked for, or None
    """

    board: Board
    basis: Basis = USUAL_BASIS
    limit: float | None = None


@dataclass(frozen=True)
class CableTrial:
    """One cable in one role.

    Attributes
    ----------
    candidate : the cable
    now : whether it is the one now used
    fits : whether it can be advised in this role
    worst : the worst of all states, as `loss` reports it for a board with this cable
    proven : whether the worst state is the result of a complete search
    scenes : every scene of the board likewise
    ranked : the worst of all states that ranks: where the role has the instrument's own lead, with
        this lead counted, against no cable at all; elsewhere `worst`
    with_lead : the treble loss of `ranked` [dB] where the role has this lead; None elsewhere
    change : what the cable changes against the one now used [dB]; a minus means less is lost
    limit : how long it may be, None if not asked for
    """

    candidate: Candidate
    now: bool
    fits: bool
    worst: StateReport
    ranked: StateReport
    proven: bool
    scenes: tuple[StateReport, ...]
    with_lead: float | None
    change: float = math.nan
    limit: Limit | None = None

    @property
    def capacitance(self) -> float:
        """Of the cable [F/m]."""
        return scalar(self.candidate.spec.capacitance)

    @property
    def counted(self) -> float:
        """The loss [dB] that ranks: with the lead where the cable is the lead."""
        return self.ranked.treble_loss

    def counted_in(self, scene: StateReport) -> float:
        """Return what counts likewise of a scene [dB]."""
        return scene.treble_loss if self.with_lead is None else scene.treble_loss_with_lead


@dataclass(frozen=True)
class RoleReport:
    """All cables in one role, the one that loses least first."""

    role: Role
    choices: tuple[CableTrial, ...]

    @property
    def now(self) -> CableTrial:
        """The cable now used."""
        return next(choice for choice in self.choices if choice.now)

    @property
    def best(self) -> CableTrial:
        """The one that loses least of those that can be advised here, and of the one now used."""
        return next(choice for choice in self.choices if choice.fits or choice.now)

    @property
    def better(self) -> CableTrial | None:
        """The best, None if it hardly loses less than the one now used."""
        return self.best if self.best.change <= -_SHOWN_DB else None

    @property
    def noticed(self) -> bool:
        """Whether the best makes a difference to the ear."""
        return self.best.change <= -NOTICED_DB

    @property
    def cheaper(self) -> CableTrial | None:
        """The next with clearly more capacitance, which often costs less; None if there is none.

        Only a cable that is sold for what this role does is a cheaper one.
        """
        least = _MORE * self.now.capacitance
        more = [
            c
            for c in self.choices
            if c.capacitance > least and c.candidate.sold_for(self.role) and c != self.better
        ]
        return min(more, key=lambda c: c.capacitance, default=None)

    def folds(self) -> list[Fold[CableTrial]]:
        """Return the cables in their order, those as one that lose nearly the same in all states.

        The one now used, the better and the cheaper one have a row of their own.
        """
        own = [choice for choice in (self.now, self.better, self.cheaper) if choice is not None]
        return folded(
            self.choices,
            _figures,
            kind=lambda choice: None if choice.fits else choice.candidate.bought_as,
            shown=lambda choice: any(choice is one for one in own),
        )


@dataclass(frozen=True)
class CablesReport:
    """What `cables` answers.

    Attributes
    ----------
    question : what was asked
    roles : by cable name of the board, in chain order
    unused : cable names of the file that the chain does not use
    """

    question: CableQuestion
    roles: tuple[RoleReport, ...]
    unused: tuple[str, ...]

    @property
    def best(self) -> RoleReport:
        """The role in which another cable saves most."""
        changes = np.array([role.best.change for role in self.roles])
        return self.roles[int(np.where(np.isfinite(changes), changes, 0.0).argmin())]

    @property
    def silent(self) -> bool:
        """Whether nothing comes out in any state."""
        return not math.isfinite(self.best.now.counted)

    @property
    def proven(self) -> bool:
        """Whether every worst state is the result of a complete search."""
        return all(choice.proven for role in self.roles for choice in role.choices)


def cables_report(
    question: CableQuestion, tried: Sequence[Candidate], progress: Progress | None = None
) -> CablesReport:
    """Try every cable in every role of a board.

    Parameters
    ----------
    question : what is asked
    tried : the cables, from `candidates`
    progress : told how many lengths are done, where a limit is asked for

    Raises
    ------
    SigsimError : the board uses no cable
    UnreachableError : no length of any cable in any role keeps the limit
    """
    board = question.board
    refuse_beyond(board, "cables")
    names = tuple(dict.fromkeys(cable.cable for cable in board.pieces()))
    if not names:
        raise SigsimError("this board has no cable in its chain", where=board.file)
    roles = tuple(
        _role_report(question, role, tried_as(role, tried), progress)
        for role in (role_of(board, name) for name in names)
    )
    if question.limit is not None:
        _refuse_unreachable(question, roles)
    return CablesReport(question, roles, tuple(n for n in board.cables if n not in names))


def lengths_to_try(board: Board, tried: Sequence[Candidate]) -> int:
    """Return how many lengths a limit takes, for a word on progress."""
    roles = [role_of(board, name) for name in {cable.cable for cable in board.pieces()}]
    return sum(len(tried_as(role, tried)) * (EVALUATIONS + len(role.spec.sold)) for role in roles)


def _role_report(
    question: CableQuestion, role: Role, tried: Sequence[Candidate], progress: Progress | None
) -> RoleReport:
    choices = _trials(question, role, tried)
    if question.limit is not None:
        specs = [candidate.spec for candidate in tried]
        found = limits(question.board, role, specs, question.limit, question.basis, progress)
        choices = [dataclasses.replace(c, limit=f) for c, f in zip(choices, found, strict=True)]
    now = next(choice.counted for choice in choices if choice.now)
    choices = [dataclasses.replace(c, change=c.counted - now) for c in choices]
    order = sorted(choices, key=lambda c: (math.isnan(c.counted), c.counted, not c.now))
    return RoleReport(role, tuple(order))


def _trials(question: CableQuestion, role: Role, tried: Sequence[Candidate]) -> list[CableTrial]:
    basis, leads = question.basis, any(role.leads)
    measured = Variants(question.board, role, [candidate.spec for candidate in tried])
    worst, proven = measured.worst(basis)
    ranked, proven_too = worst, proven
    if leads:
        ranked, proven_too = measured.worst(dataclasses.replace(basis, reference="bare"))
    scenes = [measured.in_scene(name, basis) for name in question.board.scenes]
    return [
        CableTrial(
            candidate=candidate,
            now=candidate.spec == role.spec,
            fits=candidate.fits(role),
            worst=worst[i],
            ranked=ranked[i],
            proven=proven[i] and proven_too[i],
            scenes=tuple(found[i] for found in scenes),
            with_lead=ranked[i].treble_loss if leads else None,
        )
        for i, candidate in enumerate(tried)
    ]


def _figures(choice: CableTrial) -> list[float]:
    """Return what a person reads of a cable [dB]; a frequency that is 1 % off counts as 0.1 dB."""
    state = choice.ranked
    peak = state.resonance
    found = [choice.counted, state.level_change, as_level(state.corner)]
    found += [math.nan, math.nan] if peak is None else [peak.height, as_level(peak.frequency)]
    return found + [choice.counted_in(scene) for scene in choice.scenes]


def _refuse_unreachable(question: CableQuestion, roles: Sequence[RoleReport]) -> None:
    """Refuse a limit that no length of any cable in any role can keep."""
    found = [c.limit for r in roles for c in r.choices if c.limit is not None]
    if any(limit.windows for limit in found):
        return
    least = min(limit.at_zero for limit in found)
    if not np.isfinite(least):
        raise SigsimError("nothing comes out of this board: is a volume knob at 0?")
    raise UnreachableError(
        f"not reachable: {'; '.join(_lost_at_least(question, role) for role in roles)}",
        where="--limit",
        found=f"{question.limit:g} dB",
        accepted=f"{math.ceil(10 * least) / 10:g} dB or more",
    )


def _lost_at_least(question: CableQuestion, report: RoleReport) -> str:
    """Say what is lost without any cable in a role or, if that is little, with only its plugs."""
    role = report.role
    none = [dataclasses.replace(role.spec, plug_capacitance=0.0)]
    lost = float(losses_at(question.board, role, none, np.zeros((1, 1)), question.basis)[0, 0])
    limit = question.limit or 0.0
    if lost > limit:
        return f"{shown_over(lost, limit)} dB are lost with no cable at all as '{role.name}'"
    least = min(c.limit.at_zero for c in report.choices if c.limit is not None)
    return f"{shown_over(least, limit)} dB are lost at length 0 as '{role.name}', by the plugs"
