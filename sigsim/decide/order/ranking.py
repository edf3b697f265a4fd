"""What orders are ranked by.

Orders whose loss is within a tenth of a decibel of the lowest, or is nothing to speak of anyway,
count as equal. Of these the best has the fewest pairs against the custom, then the fewest pairs
turned against the file, then the lower loss, then it is the first in the order of the file. All
others come behind them, by their loss.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from sigsim.decide.buffer.views import mean
from sigsim.decide.order.applied import ordered_board
from sigsim.decide.order.question import Ordered
from sigsim.metrics import USUAL_BASIS
from sigsim.states.measure import treble
from sigsim.states.search import ranked

if TYPE_CHECKING:
    from sigsim.decide.order.question import Order, Question
    from sigsim.states.graph import Index
    from sigsim.states.search import Ranked

# Losses that are this near each other count as equal [dB], and all up to the second.
EQUAL_DB: Final = 0.1
LITTLE_DB: Final = 0.5
# What is less apart [dB] differs by rounding alone.
ROUNDING_DIGITS: Final = 7


def equal_up_to(lowest: float) -> float:
    """Return up to which loss [dB] orders count as equal to the one with the lowest."""
    return max(lowest + EQUAL_DB, LITTLE_DB)


class Pairs(NamedTuple):
    """What it costs that one box stands before another.

    Attributes
    ----------
    custom : against the custom, shape (boxes, boxes); first the one that stands before
    turned : against the file, the same shape
    """

    custom: Index
    turned: Index

    @classmethod
    def of(cls, question: Question) -> Pairs:
        """Return what each pair costs; a buffer, which is the last, costs nothing anywhere."""
        count = len(question.boxes)
        size = count + (question.buffer is not None)
        custom, turned = np.zeros((2, size, size), np.int64)
        for first in question.boxes:
            for second in question.boxes:
                turned[first.number, second.number] = first.number > second.number
                against = (a > b for a in first.ranks for b in second.ranks)
                custom[first.number, second.number] = sum(against) if first != second else 0
        return cls(custom, turned)

    def counted(self, orders: Index) -> tuple[Index, Index]:
        """Return how many pairs of orders stand against the custom and against the file."""
        custom, turned = np.zeros((2, len(orders)), np.int64)
        length = orders.shape[1]
        for one in range(length):
            first = orders[:, one, None]
            rest = orders[:, one + 1 :]
            custom += self.custom[first, rest].sum(axis=1)
            turned += self.turned[first, rest].sum(axis=1)
        return custom, turned


@dataclass(frozen=True)
class Candidate:
    """An order with what it is ranked by."""

    order: Order
    loss: float
    custom: int
    turned: int

    def key(self, limit: float) -> tuple[object, ...]:
        """Return by what it is sorted, where losses up to a limit [dB] are equal."""
        loss = round(self.loss, ROUNDING_DIGITS) if math.isfinite(self.loss) else 0.0
        if loss <= round(limit, ROUNDING_DIGITS):
            return 0, self.custom, self.turned, loss, self.order
        return 1, loss, self.custom, self.turned, self.order


def first_of(candidates: Iterable[Candidate], limit: float) -> Candidate | None:
    """Return the first of the ranking, None of none."""
    return min(candidates, key=lambda one: one.key(limit), default=None)


def _found(question: Question, order: Order, gap: int | None) -> list[tuple[float, Ranked]]:
    board = ordered_board(question, order, gap)
    measure = treble(USUAL_BASIS)
    views = [view for view in question.views if view.weight > 0 or not question.mean]
    return [(view.weight, ranked(board, measure, fixed=view.fixed)[0]) for view in views]


def _over(question: Question, found: Sequence[tuple[float, Ranked]]) -> float:
    values = [(weight, one.value) for weight, one in found]
    if question.mean:
        return mean(values)
    return max((value for _, value in values if not math.isnan(value)), default=math.nan)


def loss_of(question: Question, order: Order, gap: int | None = None) -> float:
    """Return the loss [dB] of an order by a search over every state of its board.

    Parameters
    ----------
    question : whose order it is
    order : the numbers of the boxes
    gap : where the buffer stands, see `ordered_board`
    """
    return _over(question, _found(question, order, gap))


def told(question: Question, order: Order, pairs: Pairs) -> Ordered:
    """Return an order with all that is said of it."""
    found = _found(question, order, None)
    custom, turned = (int(count[0]) for count in pairs.counted(np.array([order])))
    heard = [one for _, one in found if not math.isnan(one.value)]
    worst: tuple[str, ...] = ()
    if heard:
        on = max(heard, key=lambda one: one.value).on
        # A buffer has no switch, so that all boards of a question have the same ones.
        worst = question.board.state(on).on
    return Ordered(order, _over(question, found), worst, custom, turned)
