"""A board with the boxes of one level in another order.

Along a level, boxes change their order. A cable that the chain names, and a tap or split behind
one, stay where they are, between the k-th box and the next; what hangs directly behind a box
travels with it. A buffer is one more box, which has its place somewhere between two of them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, cast

from sigsim.board import edit
from sigsim.decide.moves import parted, with_siblings
from sigsim.items.cable import Cable

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.decide.order.question import Order, Question
    from sigsim.items.base import Item


@dataclass(frozen=True)
class Parts:
    """A level taken apart.

    Attributes
    ----------
    boxes : each with what hangs on it
    slots : what stays before the first box, between each and the next, and behind the last
    """

    boxes: tuple[tuple[Item, ...], ...]
    slots: tuple[tuple[Item, ...], ...]

    def gaps(self, junction: int, *, inside: bool) -> range:
        """Return where a buffer may stand among what stays between two boxes.

        Parameters
        ----------
        junction : how many boxes come before
        inside : whether the level is inside a loop

        Returns
        -------
        of how many things of the slot it may stand behind
        """
        slot = self.slots[junction]
        cables = [i for i, item in enumerate(slot) if isinstance(item, Cable)]
        first, last = 0, len(slot)
        if junction == 0 and not inside and cables:
            # The instrument's own lead stays with the instrument.
            first = cables[0] + 1
        if junction == len(self.boxes) and not inside:
            # Behind the last cable nothing leads on.
            last = cables[-1] if cables else -1
        return range(first, last + 1)


def parts(question: Question, *, marked: bool = False) -> Parts:
    """Return the boxes of a level, and what stays between them.

    Parameters
    ----------
    question : whose level it is
    marked : whether the instrument's own lead is marked as such
    """
    board = question.board
    if marked:
        board = replace(board, listed=board.with_lead())
    items = edit.siblings(board, (*question.level, 0))
    boxes, line = parted(items)
    slots: list[list[Item]] = [[]]
    for item in line:
        if item is None:
            slots.append([])
        else:
            slots[-1].append(item)
    return Parts(tuple(map(tuple, boxes)), tuple(map(tuple, slots)))


def ordered_board(question: Question, order: Order, gap: int | None = None) -> Board:
    """Return the board with a level in another order.

    Parameters
    ----------
    question : whose boxes they are
    order : the numbers of the boxes; that behind the last box is the buffer
    gap : behind how many of the things that stay between its two neighbours the buffer stands;
        None for where the loss is least
    """
    if len(question.boxes) not in order:
        gap = 0
    elif gap is None:
        gap = best_gap(question, order)
    place = (*question.level, 0)
    return with_siblings(question.board, place, tuple(_items(question, order, gap)))


def best_gap(question: Question, order: Order) -> int:
    """Return where, between its two neighbours, the buffer of an order serves best."""
    from sigsim.decide.order.ranking import loss_of

    allowed = allowed_gaps(question, order)
    if len(allowed) < 2:
        return allowed[0] if allowed else 0
    return min(allowed, key=lambda gap: round(loss_of(question, order, gap), 9))


def allowed_gaps(question: Question, order: Order) -> Sequence[int]:
    """Return where the buffer of an order may stand between its two neighbours."""
    junction = order.index(len(question.boxes))
    return parts(question).gaps(junction, inside=bool(question.level))


def _items(question: Question, order: Order, gap: int) -> Iterator[Item]:
    taken = parts(question)
    slots = iter(taken.slots)
    behind = next(slots)
    for number in order:
        if number == len(taken.boxes):
            yield from behind[:gap]
            yield cast("Item", question.buffer)
            behind = behind[gap:]
        else:
            yield from behind
            yield from taken.boxes[number]
            behind = next(slots)
    yield from behind
