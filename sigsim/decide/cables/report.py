"""Which cable to use where: every cable in every role of a board, exactly over all states."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.board.edit import with_cable, without_lead
from sigsim.decide.cables.limit import EVALUATIONS, Limit, Role, limits, losses_at, role_of
from sigsim.decide.limits import refuse_beyond
from sigsim.decide.loss.report import StateReport, assess
from sigsim.errors import SigsimError, UnknownNameError
from sigsim.metrics import NOTICED_DB, USUAL_BASIS, Basis
from sigsim.physics.arrays import scalar
from sigsim.states.ranked import worst_state
from sigsim.states.response import Solver

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.decide.cables.limit import Progress
    from sigsim.items.cable import CableSpec

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
class Candidate:
    """A cable that could be used.

    Attributes
    ----------
    name : in the library or, for a cable that only the file has, under `[cables]`
    spec : its figures
    in_library : whether the name is the library's
    in_file : the names under `[cables]` that have just these figures
    asked : whether it is tried in every role, or only where it is used now
    """

    name: str
    spec: CableSpec
    in_library: bool
    in_file: tuple[str, ...] = ()
    asked: bool = True


@dataclass(frozen=True)
class CableTrial:
    """One cable in one role.

    Attributes
    ----------
    candidate : the cable
    now : whether it is the one now used
    worst : the worst of all states, as `loss` reports it for a board with this cable
    proven : whether the worst state is the result of a complete search
    scenes : every scene of the board likewise
    with_lead : the worst treble loss [dB] that counts the instrument's own lead as well, where
        the role has it; None elsewhere
    change : what the cable changes against the one now used [dB]; a minus means less is lost
    limit : how long it may be, None if not asked for
    """

    candidate: Candidate
    now: bool
    worst: StateReport
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
        return self.worst.treble_loss if self.with_lead is None else self.with_lead


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
    def better(self) -> CableTrial | None:
        """The cable that loses least, None if it is the one now used."""
        first = self.choices[0]
        return first if first.change <= -_SHOWN_DB else None

    @property
    def noticed(self) -> bool:
        """Whether the cable that loses least makes a difference to the ear."""
        return self.choices[0].change <= -NOTICED_DB

    @property
    def cheaper(self) -> CableTrial | None:
        """The next with clearly more capacitance, which often costs less; None if there is none."""
        least = _MORE * self.now.capacitance
        more = [c for c in self.choices if c.capacitance > least]
        return min(more, key=lambda c: c.capacitance, default=None)


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
        changes = np.array([role.choices[0].change for role in self.roles])
        return self.roles[int(np.where(np.isfinite(changes), changes, 0.0).argmin())]

    @property
    def silent(self) -> bool:
        """Whether nothing comes out in any state."""
        return not math.isfinite(self.best.now.counted)

    @property
    def proven(self) -> bool:
        """Whether every worst state is the result of a complete search."""
        return all(choice.proven for role in self.roles for choice in role.choices)


def candidates(
    board: Board, library: Mapping[str, CableSpec], only: Sequence[str] = ()
) -> tuple[Candidate, ...]:
    """Return the cables to try: the library's and the file's, each different one once.

    Parameters
    ----------
    board : the board
    library : cables by name
    only : names to keep, all without; the cables now used always stay

    Raises
    ------
    UnknownNameError : a name that neither the library nor the file has
    """
    known = (*board.cables, *library)
    for name in only:
        if name not in known:
            raise UnknownNameError("cable", name, tuple(dict.fromkeys(known)), where="--only")
    used = [cable.spec for cable in board.pieces()]
    found: list[Candidate] = []
    for in_library, cables in ((True, library), (False, board.cables)):
        for name, spec in cables.items():
            if not in_library and any(candidate.spec == spec for candidate in found):
                continue
            same = tuple(n for n, own in board.cables.items() if own == spec)
            asked = not only or not {name, *same}.isdisjoint(only)
            if asked or spec in used:
                found.append(Candidate(name, spec, in_library, same, asked))
    return tuple(found)


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
    SigsimError : the board uses no cable, or no length of any role keeps the limit
    """
    board = question.board
    refuse_beyond(board, "cables")
    if question.limit is not None:
        refuse_beyond(board, "cables --limit")
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
    return sum(len(tried_as(role, tried)) for role in roles) * EVALUATIONS


def tried_as(role: Role, tried: Sequence[Candidate]) -> list[Candidate]:
    """Return the cables to try in a role."""
    return [candidate for candidate in tried if candidate.asked or candidate.spec == role.spec]


def _role_report(
    question: CableQuestion, role: Role, tried: Sequence[Candidate], progress: Progress | None
) -> RoleReport:
    choices = [_trial(question, role, candidate) for candidate in tried]
    if question.limit is not None:
        specs = [candidate.spec for candidate in tried]
        found = limits(question.board, role, specs, question.limit, question.basis, progress)
        choices = [dataclasses.replace(c, limit=f) for c, f in zip(choices, found, strict=True)]
    now = next(choice.counted for choice in choices if choice.now)
    choices = [dataclasses.replace(c, change=c.counted - now) for c in choices]
    order = sorted(choices, key=lambda c: (math.isnan(c.counted), c.counted, not c.now))
    return RoleReport(role, tuple(order))


def _trial(question: CableQuestion, role: Role, candidate: Candidate) -> CableTrial:
    board = with_cable(question.board, role.name, candidate.spec)
    basis = question.basis
    extreme, solver = worst_state(board, basis), Solver(board)
    return CableTrial(
        candidate=candidate,
        now=candidate.spec == role.spec,
        worst=assess(solver, board.state(extreme.on), basis),
        proven=extreme.exact,
        scenes=tuple(assess(solver, board.scene(s), basis) for s in board.scenes),
        with_lead=worst_state(without_lead(board), basis).value if any(role.leads) else None,
    )


def _refuse_unreachable(question: CableQuestion, roles: Sequence[RoleReport]) -> None:
    """Refuse a limit that no length of any cable in any role can keep."""
    found = [c.limit for r in roles for c in r.choices if c.limit is not None]
    if any(limit.windows for limit in found):
        return
    least = min(limit.at_zero for limit in found)
    if not np.isfinite(least):
        raise SigsimError("nothing comes out of this board: is a volume knob at 0?")
    raise SigsimError(
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
    if question.limit is None or lost > question.limit:
        return f"{lost:.1f} dB are lost with no cable at all as '{role.name}'"
    with_plugs = min(c.limit.at_zero for c in report.choices if c.limit is not None)
    return f"{with_plugs:.1f} dB are lost at length 0 as '{role.name}', by the plugs"
