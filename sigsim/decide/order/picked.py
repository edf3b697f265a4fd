"""The first orders of the ranking, of which only those are looked at that can be among them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.decide.order.ranking import ROUNDING_DIGITS, equal_up_to

if TYPE_CHECKING:
    from sigsim.decide.order.bounded import Bounded
    from sigsim.decide.order.trial import Trial
    from sigsim.physics.arrays import FloatArray
    from sigsim.states.graph import Flags, Index

_ROUNDING_DB: Final = 1e-7
# So many that may have the lowest loss are looked at before it is told that more have to be.
_MOST_LOWEST: Final = 64


class Picked:
    """Some orders, with bounds on their losses.

    Parameters
    ----------
    trial : takes over what is looked at
    bounded : the bounds
    orders : that obey the constraints
    whole : whether these are all
    """

    def __init__(
        self, trial: Trial, bounded: Bounded, orders: Index, *, whole: bool = False
    ) -> None:
        self.trial, self.orders, self.whole = trial, orders, whole
        self.low, self.high = bounded.of(orders)
        self.custom, self.turned = trial.pairs.counted(orders)

    def lowest(self) -> float:
        """Look at some orders that may have the lowest loss, and return what none is below."""
        best = np.argsort(self.high, kind="stable")[:_MOST_LOWEST]
        own = np.zeros(len(self.orders), bool)
        own[best] = True
        self._look(own & (self.low <= self.high.min() + _ROUNDING_DB))
        return min(float(self.low.min()), self.trial.lowest)

    def _limits(self) -> tuple[float, float]:
        """Return between what the loss [dB] is up to which orders count as equal."""
        lowest = self.trial.lowest
        least = min(float(self.low.min()), lowest) if self.whole else lowest
        return equal_up_to(least), equal_up_to(lowest)

    def first(self, top: int, among: Flags | None = None) -> None:
        """Look at all that may be the first of the ranking.

        Parameters
        ----------
        top : so many
        among : which of the orders, None for all
        """
        least, limit = self._limits()
        left = np.ones(len(self.orders), bool) if among is None else among
        equal = left & (self.low <= limit + _ROUNDING_DB)
        costs = np.stack((self.custom[equal], self.turned[equal]), axis=1)
        for custom, turned in np.unique(costs, axis=0).tolist():
            here = equal & (self.custom == custom) & (self.turned == turned)
            losses = self._best(here, top)
            if ((losses > least - _ROUNDING_DB) & (losses <= limit)).any() and least < limit:
                # It has to be known exactly what counts as equal.
                self._look(self.low <= self.trial.lowest + _ROUNDING_DB)
                least, limit = self._limits()
            losses = np.round(losses, ROUNDING_DIGITS)
            top -= int((losses <= round(limit, ROUNDING_DIGITS)).sum())
            if top <= 0:
                return
        # Of those that count as equal all were looked at.
        self._best(left & (self.low > limit - _ROUNDING_DB), top)

    def _best(self, which: Flags, top: int) -> FloatArray:
        """Look at all of some that may be among so many with the lowest losses."""
        high = np.sort(self.high[which])
        if not high.size:
            return high
        return self._look(which & (self.low <= high[min(top, high.size) - 1] + _ROUNDING_DB))

    def _look(self, which: Flags) -> FloatArray:
        orders = self.orders[which]
        self.trial.look(orders)
        losses = np.array([self.trial.known[tuple(order)].loss for order in orders.tolist()])
        self.low[which] = self.high[which] = losses
        return losses
