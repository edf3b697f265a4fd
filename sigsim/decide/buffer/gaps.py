"""The gaps of a chain and of its loops in which a box could stand."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sigsim.decide.pickup import has_pickup
from sigsim.items.loop import Loop
from sigsim.items.stage import ActiveStage
from sigsim.items.tap import Tap

if TYPE_CHECKING:
    from sigsim.board.edit import Place
    from sigsim.board.model import Board
    from sigsim.items.base import Item


@dataclass(frozen=True)
class Gap:
    """A place between two neighbours of the chain, or of a loop, as the file lists it.

    Attributes
    ----------
    place : of a box put there
    after : what it follows, None at the very start
    before : what it precedes, None at the very end
    forbidden_by : the stage behind it that wants to see the pickup, None if there is none
    loop : the loop it is inside of, empty for none
    """

    place: Place
    after: Item | None
    before: Item | None
    forbidden_by: str | None
    loop: str = ""

    @property
    def index(self) -> int:
        """How many items of the file's chain, or of what is inside the loop, come before it."""
        return self.place[-1]


def gaps(board: Board) -> tuple[Gap, ...]:
    """Return the gaps of a board's chain, loops taken as one.

    The instrument's own lead stays with the instrument: there is no gap before it.
    """
    lead = board.lead_place
    found = _told(board, _gaps(board.with_lead(), (), None, ""))
    return found if lead is None else found[lead + 1 :]


def is_place(board: Board, gap: Gap) -> bool:
    """Return whether a box has its place in a gap.

    Behind the last cable it has none: without a cable behind it nothing leads to the destination.
    """
    return len(gap.place) > 1 or any(not isinstance(i, Tap) for i in board.listed[gap.index :])


def gaps_in_loops(board: Board) -> tuple[Gap, ...]:
    """Return the gaps inside loops, nested ones as well, in the order of the chain."""
    return _told(board, _in_loops(board.listed, (), None))


def _told(board: Board, found: Iterator[Gap]) -> tuple[Gap, ...]:
    """Return gaps, allowed everywhere where there is no pickup to see."""
    if has_pickup(board):
        return tuple(found)
    return tuple(replace(gap, forbidden_by=None) for gap in found)


def _in_loops(items: Sequence[Item], way: Place, wanting: str | None) -> Iterator[Gap]:
    """Go through the loops among some items; `wanting` behind them wants to see the pickup."""
    for index, loop in enumerate(items):
        if isinstance(loop, Loop):
            inner = (*way, index)
            behind = first_wanting_pickup(items[index + 1 :]) or wanting
            yield from _gaps(loop.inside, inner, behind, loop.label)
            yield from _in_loops(loop.inside, inner, behind)


def _gaps(items: Sequence[Item], way: Place, wanting: str | None, loop: str) -> Iterator[Gap]:
    for index in range(len(items) + 1):
        yield Gap(
            (*way, index),
            items[index - 1] if index else None,
            items[index] if index < len(items) else None,
            first_wanting_pickup(items[index:]) or wanting,
            loop,
        )


def first_wanting_pickup(items: Sequence[Item]) -> str | None:
    """Return the first of the items that wants to see the pickup, inside loops as well."""
    for item in items:
        if isinstance(item, ActiveStage) and item.needs_pickup:
            return item.stage
        if isinstance(item, Loop) and (found := first_wanting_pickup(item.inside)) is not None:
            return found
    return None
