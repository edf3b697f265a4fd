"""Every other place that a box could have on its board.

Along its own level of the chain, boxes change their order: a cable that the chain names, and a tap
or split behind one, stay where they are; a tap or split directly behind a box hangs on its output
and travels with it. Into another level, a box is taken out here and put in there.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, cast

from sigsim.board import edit
from sigsim.board.relaid import parts_loops
from sigsim.decide.buffer.gaps import Gap, gap_at, gaps, gaps_elsewhere, is_place
from sigsim.items.cable import Cable
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.items.tap import Tap

if TYPE_CHECKING:
    from sigsim.board.edit import Place
    from sigsim.board.model import Board
    from sigsim.items.base import Item


@dataclass(frozen=True)
class Move:
    """A box at another place.

    Attributes
    ----------
    board : the board then
    gap : where the box is then, between its new neighbours
    """

    board: Board
    gap: Gap


def along(board: Board, place: Place) -> Iterator[Move]:
    """Yield every other place of a box at its own level, from the first to the last."""
    items = edit.siblings(board, place)
    boxes, slots = parted(items)
    mine = next(i for i, box in enumerate(boxes) if box[0] is items[place[-1]])
    others = [box for i, box in enumerate(boxes) if i != mine]
    for number in range(len(boxes)):
        if number != mine:
            order = (*others[:number], boxes[mine], *others[number:])
            new = woven(order, slots)
            made = with_siblings(board, place, new)
            if not is_laid_out(made):
                continue
            index = next(i for i, item in enumerate(new) if item is boxes[mine][0])
            yield Move(made, _gap(made, (*place[:-1], index)))


def elsewhere(board: Board, place: Place) -> Iterator[Move]:
    """Yield every place of a stage at another level: in the chain, or inside a loop or split.

    None where it is the only thing in its loop, which would be left empty, and none on another
    way of a split: it would be heard at another end then.
    """
    siblings, split = edit.siblings(board, place), _split_around(board, place)
    if len(siblings) < 2 and not isinstance(_around(board, place), Split):
        return
    stage = siblings[place[-1]]
    rest = edit.lifted(board, place)
    for gap in (*gaps(rest), *gaps_elsewhere(rest)):
        same_way = _split_around(rest, gap.place) == split
        if is_place(rest, gap) and gap.place[:-1] != place[:-1] and same_way:
            made = edit.inserted(rest, gap.place, stage)
            if is_laid_out(made):
                yield Move(made, gap)


def is_laid_out(board: Board) -> bool:
    """Return whether layouts give all lengths that a board leaves to them, with boxes moved."""
    return not board.has_layout or not (board.lacking or parts_loops(board))


def _split_around(board: Board, place: Place) -> str:
    """Return the innermost split that a place is inside of, empty for none."""
    groups = (edit.item_at(board, place[:depth]) for depth in range(len(place) - 1, 0, -1))
    return next((group.label for group in groups if isinstance(group, Split)), "")


def parted(items: Sequence[Item]) -> tuple[list[list[Item]], list[Item | None]]:
    """Return the boxes with what hangs on them, and the chain with None where a box stands."""
    boxes: list[list[Item]] = []
    slots: list[Item | None] = []
    for item in items:
        if isinstance(item, Tap | Split) and slots and slots[-1] is None:
            boxes[-1].append(item)
        elif isinstance(item, Cable | Tap | Split):
            slots.append(item)
        else:
            boxes.append([item])
            slots.append(None)
    return boxes, slots


def woven(boxes: Iterable[Sequence[Item]], slots: Sequence[Item | None]) -> list[Item]:
    """Return the items of a level again, its boxes in another order; see `parted`."""
    order = iter(boxes)
    return [item for slot in slots for item in (next(order) if slot is None else (slot,))]


def with_siblings(board: Board, place: Place, items: Sequence[Item]) -> Board:
    """Return the board with another list of items where a place is in one."""
    if len(place) == 1:
        return replace(board, listed=tuple(items))
    group = cast(Loop | Split, _around(board, place))
    return edit.replaced(board, place[:-1], replace(group, inside=tuple(items)))


def _around(board: Board, place: Place) -> Item | None:
    """Return the loop or split that a place is inside of, None for the chain."""
    return edit.item_at(board, place[:-1]) if len(place) > 1 else None


def _gap(board: Board, place: Place) -> Gap:
    """Return between what a box stands."""
    items = edit.siblings(replace(board, listed=board.with_lead()), place)
    index, at = place[-1], gap_at(board, place)
    after = items[index - 1] if index else None
    before = items[index + 1] if index + 1 < len(items) else None
    return Gap(place, after, before, None, at.loop, at.way)
