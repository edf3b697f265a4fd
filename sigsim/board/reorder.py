"""The boxes of one level in another order; its twin for the text of a file is `reorder_file`.

What moves are boxes: stages, and loops as wholes. A tap or split directly behind a box hangs on its
output and travels with it. A cable that the chain names, and a tap or split behind one, stay where
they are: between the k-th and the next box.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Final, Literal, TypeAlias

from sigsim.board import edit
from sigsim.items.cable import Cable
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.items.tap import Tap

if TYPE_CHECKING:
    from sigsim.board.edit import Place
    from sigsim.board.model import Board
    from sigsim.items.base import Item

Sort: TypeAlias = Literal["box", "branch", "cable"]
_FIRST: Final = 0


def permuted(sorts: Sequence[Sort], order: Sequence[int]) -> list[int]:
    """Return the numbers of the items of a list when its boxes stand in another order.

    Parameters
    ----------
    sorts : what each item is
    order : the numbers of the boxes among themselves

    Raises
    ------
    ValueError : the order does not have each box once
    """
    boxes: list[list[int]] = []
    slots: list[int | None] = []
    for number, sort in enumerate(sorts):
        if sort == "box":
            boxes.append([number])
            slots.append(None)
        elif sort == "branch" and slots and slots[-1] is None:
            boxes[-1].append(number)
        else:
            slots.append(number)
    if sorted(order) != list(range(len(boxes))):
        raise ValueError(f"no order of {len(boxes)} boxes: {order}")
    coming = iter(order)
    return [i for slot in slots for i in (boxes[next(coming)] if slot is None else (slot,))]


def reordered(board: Board, level: Place, order: Sequence[int]) -> Board:
    """Return the board with the boxes of one level in another order.

    Parameters
    ----------
    board : the board
    level : the place of the loop in which they stand, empty for the chain itself
    order : the numbers of the boxes, from 0 as the file has them

    Raises
    ------
    ValueError : the order does not have each box once
    """
    items = edit.siblings(board, (*level, _FIRST))
    new = tuple(items[i] for i in permuted([_sort(item) for item in items], order))
    if not level:
        return replace(board, listed=new)
    group = edit.item_at(board, level)
    assert isinstance(group, Loop | Split), "a level is inside a loop or split"
    return edit.replaced(board, level, replace(group, inside=new))


def _sort(item: Item) -> Sort:
    if isinstance(item, Cable):
        return "cable"
    return "branch" if isinstance(item, Tap | Split) else "box"
