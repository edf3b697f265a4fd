"""How many different states a board has."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sigsim.items.loop import Loop

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.items.base import Item


def distinct_states(board: Board) -> int:
    """Return the number of states that differ; what is inside a loop that is out counts once."""
    return _count(board.chain)


def _count(items: tuple[Item, ...]) -> int:
    total = 1
    for item in items:
        if isinstance(item, Loop):
            total *= 1 + _count(item.inside)
        elif item.switch is not None:
            total *= 2
    return total
