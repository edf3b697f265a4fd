"""All orders that can meet a goal, by bounds on what runs of boxes score."""

from __future__ import annotations

import math
from functools import cached_property
from typing import TYPE_CHECKING, Final

from sigsim.decide.order.following import Following
from sigsim.decide.order.layers import Layers, root
from sigsim.states.rows import NEPER_DB

if TYPE_CHECKING:
    from sigsim.decide.order.beginnings import Goal
    from sigsim.decide.order.bounded import Bounded
    from sigsim.decide.order.runs import Runs
    from sigsim.decide.order.trial import Trial

_ROUNDING_DB: Final = 1e-7


class Quick:
    """Goes through the orders of a level of which one view depends on the order.

    Parameters
    ----------
    trial : takes over what is found
    runs : the bounds
    constant : what no order is below [dB], whatever that view

    Attributes
    ----------
    tried : how many beginnings were looked at
    """

    def __init__(self, trial: Trial, runs: Runs, constant: float) -> None:
        self.trial, self.runs, self.constant, self.tried = trial, runs, constant, 0

    @classmethod
    def of(cls, trial: Trial, bounded: Bounded | None) -> Quick | None:
        """Return it where more than one view does not depend on the order."""
        if bounded is None:
            return None
        heard = [runs for runs in bounded.runs if runs is not None]
        lines = bounded.losses.lines
        if len(heard) != 1 or (bounded.losses.question.mean and len(lines) > 1):
            return None
        return cls(trial, heard[0], max(line.constant for line in lines))

    @cached_property
    def _following(self) -> Following:
        return Following(self.runs, self.trial.clock.tick)

    def root(self) -> float:
        """Return what no order is below [dB]."""
        return max(self.constant, root(self.runs, self._following) * NEPER_DB)

    def through(self, goal: Goal) -> float | None:
        """Go through all orders that can meet a goal, and look at those that may be wanted.

        Returns
        -------
        what no order that costs no more is below [dB], but for the slack of the goal; None where
        that is not told, or it is not sure that those that are wanted were found

        Raises
        ------
        EndedError : the time is up
        """
        if self.constant > goal.limit + _ROUNDING_DB:
            return goal.limit
        layers = Layers(self.runs, self._following, self.trial, goal)
        try:
            found = layers.all()
        finally:
            self.tried += layers.tried
        if found is None:
            return None
        orders, least = found
        self.trial.look(orders)
        if goal.costs and len(orders) and not goal.first:
            custom, turned = self.trial.pairs.counted(orders)
            costs = custom * goal.costs + turned
            cheapest = orders[costs == costs.min()]
            losses = [self.trial.known[tuple(order)].loss for order in cheapest.tolist()]
            if min(losses) > goal.limit:
                # It may be another one of those that it stands for.
                return None
        return min(goal.limit, float(least.min(initial=math.inf)))
