"""What costs the most in one state: each thing taken out alone, and each alone left real."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim import metrics
from sigsim.decide.blame.parts import GROUPS, Suspect, suspects
from sigsim.decide.blame.trial import Outcome, Trial
from sigsim.decide.folding import Fold, as_level, folded
from sigsim.decide.limits import refuse_beyond
from sigsim.decide.loss.report import StateReport, assess
from sigsim.metrics import USUAL_BASIS, Basis
from sigsim.states.response import Solver
from sigsim.states.search import worst_state

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import On, State

# A loss below this [dB] is not shared out.
LEAST_SHARED_DB: Final = 0.05
# How many things are felt at most.
MOST_FELT: Final = 12


@dataclass(frozen=True)
class Blame:
    """What one thing, or one group of things, costs.

    Attributes
    ----------
    name : of the thing or group
    group : to which the thing belongs; for a group its own name
    count : of things in it
    in_reference : whether the reference has it too, so that the loss does not count it
    without : the board with it made ideal and all else real
    alone : with it real and all else that the reference leaves out made ideal
    saved : how much less treble is lost when it alone is made ideal [dB]
    level_change : at 100 Hz when it alone is made ideal [dB]
    costs : how much treble is lost when it alone is real [dB]
    share : `saved` as a part of the whole loss; None where the loss does not count it, or where
        there is hardly any loss
    cable : of a piece of cable the name under `[cables]`, else empty
    """

    name: str
    group: str
    count: int
    in_reference: bool
    without: Outcome
    alone: Outcome
    saved: float
    level_change: float
    costs: float
    share: float | None
    cable: str = ""


@dataclass(frozen=True)
class BlameReport:
    """What `blame` answers.

    Attributes
    ----------
    board : the board
    basis : what a loss is measured against and over
    state : all numbers of the state
    is_worst : whether the state is known to be the worst of all
    items : what costs, the largest saving first
    groups : the same things together
    """

    board: Board
    basis: Basis
    state: StateReport
    is_worst: bool
    items: tuple[Blame, ...]
    groups: tuple[Blame, ...]

    @property
    def counted(self) -> tuple[Blame, ...]:
        """What the loss counts."""
        return tuple(blame for blame in self.items if not blame.in_reference)

    @property
    def kept(self) -> tuple[Blame, ...]:
        """What the reference has as well."""
        return tuple(blame for blame in self.items if blame.in_reference)

    @property
    def helper(self) -> Blame | None:
        """What helps most, as a buffer that shields the pickup does; None if nothing is noticed."""
        last = min(self.items, key=lambda blame: blame.saved)
        return last if last.saved <= -metrics.NOTICED_DB else None

    @property
    def leading_group(self) -> Blame | None:
        """The group most is lost to, None unless it is several things that are felt."""
        counted = [group for group in self.groups if not group.in_reference]
        first = max(counted, key=lambda group: group.saved, default=None)
        if first is None or first.count == 1 or not first.saved >= LEAST_SHARED_DB:
            return None
        return first


def most_felt(blames: Sequence[Blame]) -> list[Blame]:
    """Return the things that change most when taken out, for better or worse, in their order."""
    felt = [b for b in blames if max(abs(b.saved), abs(b.costs)) >= LEAST_SHARED_DB]
    largest = sorted(felt, key=lambda blame: -abs(blame.saved))[:MOST_FELT]
    return [blame for blame in felt if blame in largest]


def folded_blames(blames: Sequence[Blame]) -> list[Fold[Blame]]:
    """Return things in their order, those of one kind that cost nearly the same as one.

    Of one kind are pieces of one cable, and other things of one group.
    """
    return folded(blames, _figures, kind=lambda blame: (blame.group, blame.cable))


def most_felt_folds(folds: Sequence[Fold[Blame]]) -> list[Fold[Blame]]:
    """Return the rows that change most when taken out, as `most_felt` does for single things."""
    felt = most_felt([fold.first for fold in folds])
    return [fold for fold in folds if fold.first in felt]


def _figures(blame: Blame) -> tuple[float, ...]:
    """Return what a person reads of one thing [dB]; a corner that is 1 % off counts as 0.1 dB."""
    corners = as_level(blame.without.corner), as_level(blame.alone.corner)
    return blame.saved, blame.costs, blame.level_change, *corners


def blame_report(
    board: Board, state: State, basis: Basis = USUAL_BASIS, *, is_worst: bool = False
) -> BlameReport:
    """Blame everything in one state of a board.

    Parameters
    ----------
    board : the board
    state : of the board
    basis : what a loss is measured against and over
    is_worst : whether this is known to be the worst of all states
    """
    refuse_beyond(board, "blame")
    solver = Solver(board)
    parts = suspects(board, state.on, basis.reference)
    trial = _Trial(solver, parts, state.on, basis)
    named = {
        group: frozenset(i for i, part in enumerate(parts) if part.group == group)
        for group in GROUPS
    }
    together = {group: members for group, members in named.items() if members}
    alone = [frozenset({i}) for i in range(len(parts))]
    trial.solve(real for m in (*alone, *together.values()) for real in trial.variants(m))
    items = [
        dataclasses.replace(trial.blame(p.name, p.group, members), cable=p.cable)
        for p, members in zip(parts, alone, strict=True)
    ]
    groups = [trial.blame(group, group, members) for group, members in together.items()]
    measured = assess(solver, state, basis)
    return BlameReport(board, basis, measured, is_worst, _sorted(items), _sorted(groups))


def blame_worst(board: Board, basis: Basis = USUAL_BASIS) -> BlameReport:
    """Blame everything in the worst of all states; parameters as for `blame_report`."""
    refuse_beyond(board, "blame")
    extreme = worst_state(board, basis)
    return blame_report(board, board.state(extreme.on), basis, is_worst=extreme.exact)


def _sorted(blames: Sequence[Blame]) -> tuple[Blame, ...]:
    """Put what saves most first; nothing to tell apart in a silent board."""
    return tuple(sorted(blames, key=lambda b: -b.saved if np.isfinite(b.saved) else np.inf))


class _Trial(Trial):
    """A state of which one is told what its things cost."""

    def __init__(self, solver: Solver, parts: Sequence[Suspect], on: On, basis: Basis) -> None:
        super().__init__(solver, parts, on, basis)
        self.all = frozenset(range(len(parts)))
        self.kept = frozenset(i for i in self.all if parts[i].in_reference)

    def variants(self, members: frozenset[int]) -> tuple[frozenset[int], ...]:
        """Return what tells what some suspects cost: without them, and they alone, there or not."""
        return self.all - members, self.kept | members, self.kept - members

    def blame(self, name: str, group: str, members: frozenset[int]) -> Blame:
        """Return what some suspects cost together."""
        total = self.outcome(self.all)
        without, alone, none = (self.outcome(real) for real in self.variants(members))
        saved = total.treble_loss - without.treble_loss
        in_reference = members <= self.kept
        shared = not in_reference and total.treble_loss >= LEAST_SHARED_DB
        return Blame(
            name=name,
            group=group,
            count=len(members),
            in_reference=in_reference,
            without=without,
            alone=alone,
            saved=saved,
            level_change=without.level - total.level,
            costs=alone.treble_loss - none.treble_loss,
            share=saved / total.treble_loss if shared else None,
        )
