"""Which neighbours in an order may be swapped freely."""

from __future__ import annotations

from collections.abc import Callable
from itertools import permutations
from math import factorial
from typing import TYPE_CHECKING

import numpy as np

from sigsim.decide.order.ranking import EQUAL_DB, ROUNDING_DIGITS

if TYPE_CHECKING:
    from sigsim.decide.order.question import Order
    from sigsim.decide.order.ranking import Candidate
    from sigsim.decide.order.trial import Trial
    from sigsim.states.graph import Index

# A run of more boxes is not looked at in all its orders; where there are bounds they are quicker.
_LONGEST, _LONGEST_BOUNDED = 6, 8


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
        if size > self._longest and self._all_free():
            take((order,))
            return
        found: list[tuple[int, int]] = []
        end = 0
        for start in range(size - 1):
            end = max(end, start + 1)
            while end < size and self._free(start, end + 1):
                end += 1
            if end - start > 1 and not (found and found[-1][1] >= end):
                found.append((start, end))
            runs = [(a, b) for a, b in found if len(self._orders(a, b)) > 1]
            take(tuple(order[a:b] for a, b in runs))

    @property
    def _longest(self) -> int:
        return _LONGEST if self.trial.bounded is None else _LONGEST_BOUNDED

    @property
    def _limit(self) -> float:
        return round(self.best.loss + EQUAL_DB, ROUNDING_DIGITS)

    def _all_free(self) -> bool:
        """Return whether no order at all loses more than the best, and there are several."""
        bounded = self.trial.bounded
        if bounded is None or not bounded.most() <= self._limit:
            return False
        return any(len(self._orders(a, a + 2)) > 1 for a in range(len(self.best.order) - 1))

    def _free(self, start: int, end: int) -> bool:
        """Return whether all permitted orders of a run lose no more than the best."""
        if end - start > self._longest:
            return False
        orders, most = self._orders(start, end), self._limit
        if self.trial.bounded is not None:
            low, high = self.trial.bounded.of(orders)
            if (np.round(low, ROUNDING_DIGITS) > most).any():
                return False
            # What is lower for sure need not be looked at.
            orders = orders[high >= most]
        self.trial.look(orders)
        losses = [self.trial.known[tuple(order)].loss for order in orders.tolist()]
        return all(round(loss, ROUNDING_DIGITS) <= most for loss in losses)

    def _orders(self, start: int, end: int) -> Index:
        """Return the permitted orders in which only a run is changed."""
        order = self.best.order
        inner = np.array(list(permutations(order[start:end])))
        made = np.tile(np.array(order), (factorial(end - start), 1))
        made[:, start:end] = inner
        return made[self.trial.permitted.allows(made)]
