"""All orders that can meet a goal, by bounds on what runs of boxes score."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cached_property
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.decide.order.following import Following
from sigsim.decide.order.layers import Layers, root
from sigsim.states.rows import NEPER_DB

if TYPE_CHECKING:
    from sigsim.decide.order.beginnings import Goal
    from sigsim.decide.order.bounded import Bounded
    from sigsim.decide.order.runs import Runs
    from sigsim.decide.order.trial import Trial
    from sigsim.physics.arrays import FloatArray
    from sigsim.states.graph import Index

_ROUNDING_DB: Final = 1e-7
# So often a limit is lowered by what the bounds turned out to be too low.
_MOST_TIMES: Final = 4


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
        what no order that costs no more is below [dB], but for the slack of the goal, if none
        that meets it was found; None where it is not sure that what is wanted was found

        Raises
        ------
        EndedError : the time is up
        """
        if self.constant > goal.limit + _ROUNDING_DB:
            return goal.limit
        orders = self._met(goal)
        if orders is None:
            return None
        if not len(orders) or goal.first:
            return goal.limit
        return self._cheapest(goal, orders) if goal.costs else self._any(goal, orders)

    def _met(self, goal: Goal) -> Index | None:
        """Return the orders that may meet a goal, which were looked at; None for too many."""
        layers = Layers(self.runs, self._following, self.trial, goal)
        try:
            orders = layers.all()
        finally:
            self.tried += layers.tried
        if orders is not None:
            self.trial.look(orders)
        return orders

    def _losses(self, orders: Index) -> FloatArray:
        return np.array([self.trial.known[tuple(order)].loss for order in orders.tolist()])

    def _any(self, goal: Goal, orders: Index) -> float | None:
        """Return what none is below, unless one that meets the goal is found."""
        limit = goal.limit
        for _ in range(_MOST_TIMES):
            losses = self._losses(orders)
            if losses.min(initial=math.inf) <= goal.limit or not len(orders):
                return limit
            # The bounds are too low by some ten thousandths: it may be others that these stand for.
            limit -= float(losses.max() - goal.limit) + _ROUNDING_DB
            found = self._met(replace(goal, limit=limit))
            if found is None:
                return None
            orders = found
        return None

    def _cheapest(self, goal: Goal, orders: Index) -> float | None:
        """Return the limit if the cheapest that meets the goal was found for sure."""
        custom, turned = self.trial.pairs.counted(orders)
        costs = custom * goal.costs + turned
        if self._losses(orders[costs == costs.min()]).min() <= goal.limit:
            return goal.limit
        # It may be another one of those that it stands for.
        return None if self._met(replace(goal, first=True)) is None else goal.limit
