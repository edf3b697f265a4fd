"""The orders that were looked at, and looking at more of them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.decide.order.permitted import Permitted, moved
from sigsim.decide.order.ranking import Candidate, Pairs, equal_up_to, first_of

if TYPE_CHECKING:
    from sigsim.decide.order.bounded import Bounded
    from sigsim.decide.order.clock import Clock
    from sigsim.decide.order.losses import Losses
    from sigsim.decide.order.question import Order, Question
    from sigsim.physics.arrays import FloatArray
    from sigsim.states.graph import Index

# Orders looked at between two looks at the clock.
_AT_ONCE: Final = 2048


class Trial:
    """The orders that were looked at.

    Parameters
    ----------
    question : whose orders they are
    permitted : which of these are
    losses : what tells their losses
    clock : ends it

    Attributes
    ----------
    known : what was found, by order
    lowest : the lowest loss so far [dB]
    bounded : bounds on losses, which are quicker to tell; None for none
    """

    def __init__(
        self, question: Question, permitted: Permitted, losses: Losses, clock: Clock
    ) -> None:
        self.question, self.permitted = question, permitted
        self.losses, self.clock = losses, clock
        self.pairs = Pairs.of(question)
        self.known: dict[Order, Candidate] = {}
        self.lowest = math.inf
        self.bounded: Bounded | None = None

    @property
    def limit(self) -> float:
        """Up to which loss [dB] orders count as equal to the best."""
        return equal_up_to(self.lowest)

    def look(self, orders: Index) -> None:
        """Look at all of some orders that obey the constraints."""
        orders = orders[self.permitted.allows(orders)]
        new = np.array(
            [order for order in map(tuple, orders.tolist()) if order not in self.known],
            dtype=np.int64,
        )
        for start in range(0, len(new), _AT_ONCE):
            part = new[start : start + _AT_ONCE]
            self.add(part, self.losses.of(part, self.clock.tick))

    def add(self, orders: Index, losses: FloatArray) -> None:
        """Take over the losses [dB] of orders."""
        counted = self.pairs.counted(orders)
        rows = zip(orders.tolist(), losses.tolist(), *(c.tolist() for c in counted), strict=True)
        for order, loss, custom, turned in rows:
            self.known[tuple(order)] = Candidate(tuple(order), loss, custom, turned)
            self.lowest = min(self.lowest, loss if math.isfinite(loss) else 0.0)

    def best(self) -> Candidate | None:
        """Return the first of the ranking so far."""
        return first_of(self.known.values(), self.limit)

    def among(self, orders: Iterable[Order]) -> Candidate | None:
        """Return the first of the ranking among some orders, of those that were looked at."""
        known = (self.known.get(order) for order in orders)
        return first_of((one for one in known if one is not None), self.limit)

    def climb(self, order: Order, key: Callable[[Candidate], tuple[object, ...]]) -> Candidate:
        """Move one box at a time as long as this is better, and return where it ends.

        Parameters
        ----------
        order : where to begin
        key : the smaller, the better
        """
        best = self._near(np.array([order]))[0]
        while True:
            now = min(self._near(moved(best.order)), key=key, default=best)
            if key(now) >= key(best):
                self.look(np.array([best.order]))
                return self.known[best.order]
            best = now

    def _near(self, orders: Index) -> list[Candidate]:
        """Return orders that obey the constraints with their losses, or bounds on these."""
        orders = orders[self.permitted.allows(orders)]
        if self.bounded is None:
            self.look(orders)
            return [self.known[tuple(order)] for order in orders.tolist()]
        losses = self.bounded.of(orders)[1]
        counted = self.pairs.counted(orders)
        rows = zip(orders.tolist(), losses.tolist(), *(c.tolist() for c in counted), strict=True)
        return [Candidate(tuple(order), *rest) for order, *rest in rows]


def by_loss(one: Candidate) -> tuple[object, ...]:
    """Return what ranks by the loss, then by the rest."""
    return round(one.loss, 7), one.custom, one.turned, one.order


def with_moves(question: Question, moves: int) -> Index:
    """Return the orders for which so many boxes of the file have to be moved, not fewer.

    A buffer may stand anywhere in them.
    """
    count = len(question.boxes)
    base = np.arange(count)[None]
    gone = {tuple(base[0].tolist())}
    for _ in range(moves):
        base = np.unique(moved(base), axis=0)
        left = [order for order in base.tolist() if tuple(order) not in gone]
        base = np.array(left, dtype=np.int64).reshape(-1, count)
        gone |= set(map(tuple, base.tolist()))
    if question.buffer is None:
        return base
    places = range(count + 1)
    return np.concatenate([np.insert(base, place, count, axis=1) for place in places])
