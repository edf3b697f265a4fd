"""Which neighbours in an order may be swapped freely."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise, permutations, product
from math import factorial
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.decide.order.bounds import Bounds
from sigsim.decide.order.losses import Together
from sigsim.decide.order.permitted import MOST_IN_SETS, Permitted
from sigsim.decide.order.question import Constraint
from sigsim.decide.order.ranking import EQUAL_DB, ROUNDING_DIGITS
from sigsim.decide.order.trial import Trial

if TYPE_CHECKING:
    from sigsim.decide.order.question import Order
    from sigsim.decide.order.ranking import Candidate
    from sigsim.states.graph import Index

# A run of more boxes is not looked at in all its orders.
_LONGEST: Final = 6


class Freely:
    """The runs of neighbours of an order that may be swapped freely.

    Parameters
    ----------
    trial : the orders that were looked at
    best : the order
    """

    def __init__(self, trial: Trial, best: Candidate) -> None:
        self.trial, self.best = trial, best

    def find(self, take: Callable[[tuple[Order, ...]], None]) -> None:
        """Look for the runs, and hand over those found so far after each.

        Raises
        ------
        EndedError : the time is up
        """
        order, size = self.best.order, len(self.best.order)
        found: list[tuple[int, int]] = []
        end = 0
        for start in range(size - 1):
            end = max(end, start + 1)
            while end < size and self._free(start, end + 1):
                end += 1
            if end - start > 1 and not (found and found[-1][1] >= end):
                found.append((start, end))
            runs = [(a, b) for a, b in found if self._several(a, b)]
            take(tuple(order[a:b] for a, b in runs))

    def _several(self, start: int, end: int) -> bool:
        """Return whether a run has another permitted order: one of all, if it is short."""
        if end - start <= _LONGEST:
            return len(self._orders(start, end)) > 1
        order = self.best.order
        near = [
            (*order[:i], order[i + 1], order[i], *order[i + 2 :]) for i in range(start, end - 1)
        ]
        return bool(self.trial.permitted.allows(np.array(near)).any())

    def _free(self, start: int, end: int) -> bool:
        """Return whether all permitted orders of a run lose no more than the best."""
        most = round(self.best.loss + EQUAL_DB, ROUNDING_DIGITS)
        if end - start > _LONGEST:
            return self._never_above(start, end) <= most
        orders = self._orders(start, end)
        self.trial.look(orders)
        losses = [self.trial.known[tuple(order)].loss for order in orders.tolist()]
        return all(round(loss, ROUNDING_DIGITS) <= most for loss in losses)

    def _never_above(self, start: int, end: int) -> float:
        """Return what no permitted order of a run is above [dB], without looking at each."""
        trial, order = self.trial, self.best.order
        if not isinstance(trial.losses, Together) or len(order) > MOST_IN_SETS:
            return math.inf
        kept = [(one,) for one in order[:start]], [(one,) for one in order[end:]]
        parts = [*kept[0], order[start:end], *kept[1]]
        pairs = [pair for both in pairwise(parts) for pair in product(*both)]
        rules = (Constraint("before", "", "", first, second) for first, second in pairs)
        asked = replace(trial.question, constraints=(*trial.question.constraints, *rules))
        some = Trial(asked, Permitted(asked), trial.losses, trial.clock)
        return Bounds(trial.losses, some).most()

    def _orders(self, start: int, end: int) -> Index:
        """Return the permitted orders in which only a run is changed."""
        order = self.best.order
        inner = np.array(list(permutations(order[start:end])))
        made = np.tile(np.array(order), (factorial(end - start), 1))
        made[:, start:end] = inner
        return made[self.trial.permitted.allows(made)]
