"""The proof that no order is better: all orders, set by set, less those that cannot be."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from sigsim.decide.order.beginnings import Beginnings, Goal
from sigsim.decide.order.bounds import Bounds
from sigsim.decide.order.quick import Quick
from sigsim.decide.order.ranking import LITTLE_DB, Candidate, equal_up_to
from sigsim.decide.order.trial import by_loss

if TYPE_CHECKING:
    from sigsim.decide.order.losses import Together
    from sigsim.decide.order.question import Ordered
    from sigsim.decide.order.trial import Trial

# To what the lowest loss is proven [dB], and what of that each thing may add.
PROVEN_DB: Final = 0.01
_SHARE: Final = 0.49
# Losses that are this near are the same [dB].
EXACT_DB: Final = 1e-7
# How much more a pair against the custom counts than all pairs turned.
CUSTOM: Final = 1 << 20


class Proof:
    """What is proven of the orders of a level.

    Parameters
    ----------
    trial : the orders that were looked at
    losses : of these
    now : the order of the file

    Attributes
    ----------
    bound : what no order is below [dB]
    proven : whether the lowest loss is
    tried : how many beginnings were looked at
    """

    def __init__(self, trial: Trial, losses: Together, now: Ordered) -> None:
        self.trial, self.losses, self.now = trial, losses, now
        self.bound, self.proven, self.tried = -math.inf, False, 0
        self._first: Candidate | None = None
        self._bounds: Bounds | None = None
        self._quick = Quick.of(trial, trial.bounded)

    @property
    def bounds(self) -> Bounds:
        """What can come behind each beginning."""
        if self._bounds is None:
            self._bounds = Bounds(self.losses, self.trial)
        return self._bounds

    def lowest(self) -> None:
        """Prove the lowest loss, or find a lower one."""
        trial = self.trial
        least = self.bounds.root() if self._quick is None else self._quick.root()
        self.bound = min(least, trial.lowest)
        if trial.lowest - self.bound <= PROVEN_DB:
            self.proven = True
            return
        slack = PROVEN_DB * _SHARE
        self.proven = self._least(slack, slack / trial.permitted.size)

    def _least(self, step: float, slack: float) -> bool:
        """Look for orders whose loss is lower by a step [dB], until there is none.

        Returns
        -------
        whether there is none, and not only none was found
        """
        lower: bool | None = True
        while lower:
            lower = self._lower(step, slack)
        return lower is not None

    def _lower(self, step: float, slack: float) -> bool | None:
        """Return whether there is an order whose loss is lower by a step [dB], None if not told."""
        trial = self.trial
        before = trial.lowest
        goal = Goal(limit=before - step, slack=slack)
        least = self._through(goal)
        if trial.lowest <= goal.limit:
            trial.climb(min(trial.known.values(), key=lambda one: one.loss).order, by_loss)
            return True
        if least is None:
            return None
        self.bound = max(self.bound, least - slack * trial.permitted.size)
        return False

    def _through(self, goal: Goal) -> float | None:
        """Go through all orders that can meet a goal.

        Returns
        -------
        what none that costs no more is below [dB], but for the slack of the goal; None if not all
        were gone through
        """
        if self._quick is not None:
            before = self._quick.tried
            try:
                least = self._quick.through(goal)
            finally:
                self.tried += self._quick.tried - before
            if least is not None:
                return least
        found = Beginnings(self.losses, self.bounds, self.trial, goal)
        try:
            return goal.limit if found.all() else None
        finally:
            self.tried += found.tried

    def first(self) -> None:
        """Find the first of the ranking."""
        if not self.proven and self.trial.limit > LITTLE_DB:
            return
        best = self._of_least_cost()
        if best is not None and self._doubtful(best):
            # What counts as equal has to be known better than to a hundredth of a decibel.
            best = self._of_least_cost() if self._least(EXACT_DB, 0.0) else None
        if best is not None and self._doubtful(best):
            self._quick = None
            best = self._of_least_cost() if self._least(EXACT_DB, 0.0) else None
        self._first = best

    def _doubtful(self, best: Candidate) -> bool:
        """Return whether it may be that an order does not count as equal to the best."""
        return best.loss > equal_up_to(self.bound) + EXACT_DB

    def _of_least_cost(self) -> Candidate | None:
        """Return the first of all that count as equal, None if the search for it was given up."""
        trial = self.trial
        best = trial.best()
        assert best is not None
        goal = Goal(limit=trial.limit, costs=CUSTOM, most=self._cost(best) - 1)
        if self._through(goal) is None:
            return None
        best = trial.best()
        assert best is not None
        goal = Goal(limit=best.loss, costs=CUSTOM, most=self._cost(best), first=True)
        return None if self._through(goal) is None else trial.best()

    def _cost(self, one: Candidate) -> int:
        return one.custom * CUSTOM + one.turned

    def customary(self) -> None:
        """Find the best that keeps the custom as the file does."""
        trial = self.trial
        best = trial.best()
        if best is None or best.custom <= self.now.custom:
            return
        keeping = [one for one in trial.known.values() if one.custom <= self.now.custom]
        limit = min((one.loss for one in keeping), default=math.inf)
        most = self.now.custom * CUSTOM + CUSTOM - 1
        self._through(Goal(limit=limit, costs=CUSTOM, most=most, first=True))

    def ranks(self, best: Candidate) -> bool:
        """Return whether an order is proven to be the first of the ranking."""
        return self._first is not None and self._first.order == best.order
