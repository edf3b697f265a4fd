"""The gaps of a chain in which a box could stand, and the chain with one in a gap."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sigsim.board.wiring import unwired, wired
from sigsim.items.cable import Cable
from sigsim.items.loop import Loop
from sigsim.items.stage import ActiveStage
from sigsim.items.tap import Tap

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.items.base import Item


@dataclass(frozen=True)
class Gap:
    """A place between two neighbours of the chain as the file lists it.

    Attributes
    ----------
    index : how many items of the file's chain, or of what is inside the loop, come before it
    after : what it follows, None at the very start
    before : what it precedes, None at the very end
    wired : whether the wiring cable would come before a box in it
    forbidden_by : the stage behind it that wants to see the pickup, None if there is none
    loop : the loop it is inside of, empty for none
    """

    index: int
    after: Item | None
    before: Item | None
    wired: bool
    forbidden_by: str | None
    loop: str = ""


def gaps(board: Board) -> tuple[Gap, ...]:
    """Return the gaps of a board's chain, loops taken as one.

    The instrument's own lead stays with the instrument: there is no gap before it.
    """
    items = unwired(board.chain, board.wiring)
    found = []
    for index in range(len(items) + 1):
        after = items[index - 1] if index else None
        before = items[index] if index < len(items) else None
        if isinstance(before, Cable) and before.is_lead:
            continue
        if index and any(isinstance(i, Cable) and i.is_lead for i in items[index:]):
            continue
        bare = board.wiring is not None and _bare(items[:index])
        found.append(Gap(index, after, before, bare, first_wanting_pickup(items[index:])))
    return tuple(found)


def with_box(board: Board, index: int, box: ActiveStage) -> Board:
    """Return the board with a box in a gap, wired as if the file had it there."""
    items = unwired(board.chain, board.wiring)
    chain = wired([*items[:index], box, *items[index:]], board.wiring, inside=False)
    return replace(board, chain=chain)


def without_item(board: Board, index: int) -> Board:
    """Return the board without one item of the file's chain, wired again."""
    items = unwired(board.chain, board.wiring)
    chain = wired([*items[:index], *items[index + 1 :]], board.wiring, inside=False)
    return replace(board, chain=chain)


def with_replaced(board: Board, old: Item, new: Item) -> Board:
    """Return the board with one item replaced, inside loops as well."""
    return replace(board, chain=_replaced(board.chain, old, new))


def _replaced(items: Sequence[Item], old: Item, new: Item) -> tuple[Item, ...]:
    made: list[Item] = []
    for item in items:
        if item is old:
            made.append(new)
        elif isinstance(item, Loop):
            made.append(replace(item, inside=_replaced(item.inside, old, new)))
        else:
            made.append(item)
    return tuple(made)


def free_name(board: Board, name: str) -> str:
    """Return a name that no stage or loop has yet."""
    taken, number, found = set(board.stage_names()), 1, name
    while found in taken:
        number += 1
        found = f"{name} {number}"
    return found


def _bare(items: Sequence[Item]) -> bool:
    """Whether the last stage or loop has no cable behind it yet."""
    for item in reversed(items):
        if not isinstance(item, Tap):
            return not isinstance(item, Cable)
    return False


def first_wanting_pickup(items: Sequence[Item]) -> str | None:
    """Return the first of the items that wants to see the pickup, inside loops as well."""
    for item in items:
        if isinstance(item, ActiveStage) and item.needs_pickup:
            return item.stage
        if isinstance(item, Loop) and (found := first_wanting_pickup(item.inside)) is not None:
            return found
    return None
