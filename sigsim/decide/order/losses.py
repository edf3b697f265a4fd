"""The losses of many orders at once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Final, Protocol

import numpy as np

from sigsim.decide.order.level import PLAIN, Line, lines
from sigsim.decide.order.ranking import loss_of
from sigsim.states.open_ends import Ends, largest, passed, side_by_side
from sigsim.states.options import UnfitError

if TYPE_CHECKING:
    from sigsim.decide.order.question import Question
    from sigsim.physics.arrays import FloatArray
    from sigsim.states.graph import Index

# Orders walked on together.
_TOGETHER: Final = 1024


def _never() -> None:
    """Nothing ends it."""


class Losses(Protocol):
    """What tells the losses of orders."""

    def of(self, orders: Index, tick: Callable[[], None] = _never) -> FloatArray:
        """Return the losses [dB] of orders, shape (orders, boxes).

        What is given as `tick` is called now and then.
        """


class Exactly:
    """The losses of orders, each by the search over all states of its board.

    Parameters
    ----------
    question : whose orders they are
    """

    def __init__(self, question: Question) -> None:
        self.question = question

    def of(self, orders: Index, tick: Callable[[], None] = _never) -> FloatArray:
        """Return the losses [dB] of orders; see `Losses`."""
        found = np.empty(len(orders))
        for number, order in enumerate(orders.tolist()):
            tick()
            found[number] = loss_of(self.question, tuple(order))
        return found


class Together:
    """The losses of many orders, walked on together as far as they begin alike.

    Parameters
    ----------
    question : whose orders they are

    Raises
    ------
    UnfitError : the states of its board can only be searched one order at a time
    """

    def __init__(self, question: Question) -> None:
        self.question = question
        with np.errstate(all="ignore"):
            self.lines, self.weights = lines(question)
        self.count = len(question.boxes)
        inside, parts = bool(question.level), self.lines[0].pieces.parts
        self.gaps = [tuple(parts.gaps(k, inside=inside)) for k in range(self.count + 1)]

    def of(self, orders: Index, tick: Callable[[], None] = _never) -> FloatArray:
        """Return the losses [dB] of orders; see `Losses`."""
        if not len(orders):
            return np.empty(0)
        orders, inverse = np.unique(orders, axis=0, return_inverse=True)
        placed, owner = self._placed(orders)
        found = np.full(len(orders), np.inf)
        for start in range(0, len(placed), _TOGETHER):
            tick()
            part = slice(start, start + _TOGETHER)
            np.minimum.at(found, owner[part], self._of(placed[part]))
        return found[inverse.ravel()]

    def _placed(self, orders: Index) -> tuple[Index, Index]:
        """Return the orders with every gap that a buffer may stand in, and whose each is."""
        if orders.shape[1] == self.count:
            return orders, np.arange(len(orders))
        junction = (orders == self.count).argmax(axis=1)
        made, owner = [], []
        for place in range(self.count + 1):
            here = np.flatnonzero(junction == place)
            for gap in self.gaps[place]:
                some = orders[here].copy()
                some[:, place] += gap
                made.append(some)
                owner.append(here)
        if not made:
            return orders[:0], np.empty(0, np.int64)
        return np.concatenate(made), np.concatenate(owner)

    def _of(self, orders: Index) -> FloatArray:
        # Side by side what begins alike.
        sort = np.lexsort(orders.T[::-1])
        orders = orders[sort]
        found = np.empty(len(orders))
        with np.errstate(all="ignore"):
            values = [self._in(line, orders) for line in self.lines]
        found[sort] = self.over_views(values)
        return found

    def over_views(self, values: Sequence[FloatArray]) -> FloatArray:
        """Return the worst of the views, or their weighted mean."""
        if self.question.mean:
            mean: FloatArray = self.weights @ np.array(values)
            return mean
        worst: FloatArray = np.max(values, axis=0)
        return worst

    def _in(self, line: Line, orders: Index) -> FloatArray:
        """Return the losses of orders in one view, those that begin alike side by side."""
        worst = np.full(len(orders), line.constant)
        if not line.heard:
            return worst
        ends, node = line.start, np.zeros(len(orders), np.int64)
        changed = np.zeros(len(orders), bool)
        for place in range(orders.shape[1]):
            changed[1:] |= orders[1:, place] != orders[:-1, place]
            heads = np.flatnonzero(np.append(True, changed[1:]))
            ends = self._on(line, ends, node[heads], orders[heads, : place + 1])
            node = np.cumsum(changed)
        last = orders[:, -1]
        for gap in np.unique(self._gap(last)).tolist():
            own = np.flatnonzero(self._gap(last) == gap)
            found = largest(ends.of(node[own]), line.end(gap))
            worst[own] = np.maximum(worst[own], found)
        return worst

    def _gap(self, element: Index) -> Index:
        gap: Index = np.maximum(element - self.count, PLAIN)
        return gap

    def _on(self, line: Line, ends: Ends, before: Index, beginnings: Index) -> Ends:
        """Return the ends of beginnings, from those of what they are without their last thing.

        Parameters
        ----------
        line : the view
        ends : of shorter beginnings
        before : which of these each is longer than
        beginnings : shape (beginnings, things)
        """
        element = beginnings[:, -1]
        gap = np.full(element.size, PLAIN)
        if beginnings.shape[1] > 1:
            gap = self._gap(beginnings[:, -2])
        junction = (beginnings[:, :-1] < self.count).sum(axis=1)
        keys, group = np.unique(np.stack((junction, gap, element)), axis=1, return_inverse=True)
        parts, owners = [], []
        for number, key in enumerate(keys.T.tolist()):
            own = np.flatnonzero(group.ravel() == number)
            parts.append(passed(ends.of(before[own]), line.step(*key)))
            owners.append(own)
        return side_by_side(parts, owners)


def losses_of(question: Question) -> Losses:
    """Return what tells the losses of orders the fastest."""
    try:
        return Together(question)
    except UnfitError:
        return Exactly(question)
