"""Boards that differ from another in some of their items."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from sigsim.items.cable import Cable
from sigsim.items.loop import Loop
from sigsim.items.tap import Tap

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.items.base import Item


def replace_items(board: Board, function: Callable[[Item], Item]) -> Board:
    """Return a board with every item replaced by what `function` makes of it.

    Parameters
    ----------
    board : the board
    function : gets each item; a loop comes with its contents already replaced

    Returns
    -------
    Board; an item that stands in several places (the wiring) is replaced once and stays one item
    """
    made: dict[int, Item] = {}

    def replaced(item: Item) -> Item:
        if id(item) not in made:
            within = item
            if isinstance(item, Loop):
                within = dataclasses.replace(item, inside=tuple(map(replaced, item.inside)))
            made[id(item)] = function(within)
        return made[id(item)]

    return dataclasses.replace(board, chain=tuple(map(replaced, board.chain)))


def replace_cables(board: Board, function: Callable[[Cable], Cable]) -> Board:
    """Return a board with every cable replaced, those of taps included."""

    def replaced(item: Item) -> Item:
        if isinstance(item, Cable):
            return function(item)
        if isinstance(item, Tap):
            return dataclasses.replace(item, cable=function(item.cable))
        return item

    return replace_items(board, replaced)


def pieces(board: Board, role: str | None = None) -> Iterator[Cable]:
    """Yield every piece of cable in chain order, those of taps included; `role` picks one name."""
    for item in board.items():
        cable = item.cable if isinstance(item, Tap) else item
        if isinstance(cable, Cable) and role in (None, cable.role):
            yield cable


def without_lead(board: Board) -> Board:
    """Return the board with its lead counted like any other cable.

    What a loss is measured against then has no cable at all, not even the instrument's own lead.
    """
    return replace_cables(board, lambda cable: dataclasses.replace(cable, is_lead=False))
