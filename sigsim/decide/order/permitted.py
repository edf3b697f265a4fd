"""Which orders obey all constraints."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.decide.order.applied import parts

if TYPE_CHECKING:
    from sigsim.decide.order.question import Order, Question
    from sigsim.states.graph import Flags, Index

# Of so many boxes, the buffer among them, every set is looked at.
MOST_IN_SETS: Final = 14


class Permitted:
    """The orders that obey all constraints.

    Parameters
    ----------
    question : with its constraints

    Attributes
    ----------
    count : how many boxes have a place in the file
    size : these, and the buffer if there is one
    """

    def __init__(self, question: Question) -> None:
        self.count = len(question.boxes)
        self.size = self.count + (question.buffer is not None)
        self.before = np.zeros((self.size, self.size), bool)
        self.places: dict[int, set[int]] = {}
        for rule in question.constraints:
            if rule.rule == "fixed":
                self.places.setdefault(rule.first, set()).add(rule.second)
            elif max(rule.first, rule.second) < self.size:
                self.before[rule.first, rule.second] = True
        inside, taken = bool(question.level), parts(question)
        self.junctions = [bool(taken.gaps(k, inside=inside)) for k in range(self.count + 1)]

    @cached_property
    def masks(self) -> list[int]:
        """For each box the set of those that have to come before it, as bits."""
        return [
            sum(1 << one for one in np.flatnonzero(self.before[:, box]).tolist())
            for box in range(self.size)
        ]

    def allows(self, orders: Index) -> Flags:
        """Return which orders obey all constraints, shape (orders,)."""
        count, length = orders.shape
        place = np.empty_like(orders)
        np.put_along_axis(place, orders, np.arange(length)[None], axis=1)
        good = np.ones(count, bool)
        for first, second in zip(*np.nonzero(self.before), strict=True):
            good &= place[:, first] < place[:, second]
        boxes = place
        if length > self.count:
            buffer = place[:, self.count, None]
            boxes = place - (place > buffer)
            good &= np.array(self.junctions)[buffer[:, 0]]
        for box, wanted in self.places.items():
            for at in wanted:
                good &= boxes[:, box] == at
        return good

    def every(self, most: int) -> Index | None:
        """Return all orders, in the order of their numbers; None if they are more than so many."""
        return self._each(most) if self.size > MOST_IN_SETS else self._grown(most)

    def _grown(self, most: int) -> Index | None:
        orders, sets = np.zeros((1, 0), np.int64), np.zeros(1, np.int64)
        if not self._leads_on[0]:
            return orders[:0].reshape(0, self.size)
        for _ in range(self.size):
            longer, taken = [], []
            for box in range(self.size):
                good = self.may_lead(sets, box)
                own = orders[good]
                longer.append(np.concatenate((own, np.full((len(own), 1), box)), axis=1))
                taken.append(sets[good] | 1 << box)
            orders, sets = np.concatenate(longer), np.concatenate(taken)
            # Each of them is the beginning of one order at least.
            if len(orders) > most:
                return None
        return orders[np.lexsort(orders.T[::-1])]

    def _each(self, most: int) -> Index | None:
        found: list[Order] = []
        for order in self._from((), 0, 0):
            found.append(order)
            if len(found) > most:
                return None
        return np.array(found, dtype=np.int64).reshape(len(found), self.size)

    def _from(self, order: Order, taken: int, boxes: int) -> Iterator[Order]:
        if len(order) == self.size:
            yield order
            return
        for box in self.next(taken, boxes):
            yield from self._from((*order, box), taken | 1 << box, boxes + (box < self.count))

    def next(self, taken: int, boxes: int) -> Iterator[int]:
        """Yield what may come next.

        Parameters
        ----------
        taken : what is before it, as bits
        boxes : how many of these have a place in the file
        """
        for box in range(self.size):
            if taken >> box & 1 or self.masks[box] & ~taken:
                continue
            if box == self.count:
                if not self.junctions[boxes]:
                    continue
            elif not self._stays(box, boxes):
                continue
            yield box

    def _stays(self, box: int, place: int) -> bool:
        """Return whether a box may have a place, by what is fixed."""
        here = next((b for b, wanted in self.places.items() if place in wanted), box)
        return here == box and self.places.get(box, {place}) == {place}

    @cached_property
    def _leads_on(self) -> Flags:
        """Which sets of boxes, as bits, can be the beginning of an order that obeys all."""
        return np.isfinite(self.rest(np.zeros((self.size, self.size), np.int64)))

    @cached_property
    def sets(self) -> Index:
        """How many boxes each set has, not counting the buffer, shape (sets,)."""
        numbers = np.arange(1 << self.size)
        return np.array(sum((numbers >> box & 1) for box in range(self.count)))

    def adding(self, pairs: Index) -> Index:
        """Return what each box behind each set costs by pairs, shape (sets, boxes)."""
        cost = np.zeros((1 << self.size, self.size), np.int64)
        for box in range(self.size):
            cost[1 << box : 2 << box] = cost[: 1 << box] + pairs[box]
        return cost

    def rest(self, pairs: Index) -> Index:
        """Return the least that pairs cost still, by what comes before, as bits; else infinite.

        Parameters
        ----------
        pairs : what it costs that one box stands before another, shape (boxes, boxes)
        """
        sets = 1 << self.size
        numbers, boxes = np.arange(sets), self.sets
        adding = self.adding(pairs)
        found = np.full(sets, np.inf)
        found[-1] = 0.0
        total = boxes + (numbers >> self.count & 1) * (self.size > self.count)
        for length in range(self.size - 1, -1, -1):
            here = numbers[total == length]
            for box in range(self.size):
                some = here[self._may(here, box)]
                cost = adding[some, box] + found[some | 1 << box]
                found[some] = np.minimum(found[some], cost)
        return found

    def may_lead(self, sets: Index, box: int) -> Flags:
        """Return behind which sets a box may come next, so that an order can still obey all."""
        good = self._may(sets, box)
        good[good] = self._leads_on[sets[good] | 1 << box]
        return good

    def _may(self, sets: Index, box: int) -> Flags:
        """Return behind which sets a box may come next, by its own constraints."""
        places = self.sets[sets]
        if box == self.count:
            stays = np.array(self.junctions)
        else:
            stays = np.array([*(self._stays(box, place) for place in range(self.count)), False])
        good: Flags = stays[places] & ((sets >> box & 1) == 0) & (self.masks[box] & ~sets == 0)
        return good

    def one(self) -> Order | None:
        """Return an order that obeys all constraints, as near the file as is easy; None of none."""
        if self.size == self.count:
            return self._scheduled(None)
        for junction in range(self.count, -1, -1):
            order = self._scheduled(junction) if self.junctions[junction] else None
            if order is not None:
                return (*order[:junction], self.count, *order[junction:])
        return None

    def _scheduled(self, junction: int | None) -> Order | None:
        """Return an order of the boxes, with the buffer behind so many of them."""
        earliest, latest = [0] * self.count, [self.count - 1] * self.count
        for box in range(self.count):
            for place in self.places.get(box, ()):
                earliest[box], latest[box] = max(earliest[box], place), min(latest[box], place)
            if junction is not None and self.before[box, self.count]:
                latest[box] = min(latest[box], junction - 1)
            if junction is not None and self.before[self.count, box]:
                earliest[box] = max(earliest[box], junction)
        pairs = np.argwhere(self.before[: self.count, : self.count]).tolist()
        # One box takes one place, so that the one due first is always a right one to take.
        for _ in range(self.count):
            for first, second in pairs:
                earliest[second] = max(earliest[second], earliest[first] + 1)
                latest[first] = min(latest[first], latest[second] - 1)
        order: list[int] = []
        for place in range(self.count):
            ready = [
                box for box in range(self.count)
                if box not in order and earliest[box] <= place
                and all(first in order for first, second in pairs if second == box)
            ]  # fmt: skip
            if not ready:
                return None
            box = min(ready, key=lambda one: (latest[one], one))
            if latest[box] < place:
                return None
            order.append(box)
        return tuple(order)


def moved(orders: Sequence[int] | Index) -> Index:
    """Return every order in which one thing stands elsewhere, of one order or of several."""
    base = np.atleast_2d(np.array(orders, dtype=np.int64))
    return base[:, _moves(base.shape[1])].reshape(-1, base.shape[1])


@lru_cache
def _moves(size: int) -> Index:
    own = np.arange(size)
    made = [
        np.insert(np.delete(own, one), place, one)
        for one in range(size)
        for place in range(size)
        if place not in (one, one - 1)
    ]
    return np.array(made, dtype=np.int64).reshape(len(made), size)
