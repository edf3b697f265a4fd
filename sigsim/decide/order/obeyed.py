"""What a board itself breaks of what is written at its boxes, and what a change would break."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

from sigsim.board import edit
from sigsim.board.standing import parting, split_around, standing
from sigsim.decide.order.constraints import Level
from sigsim.items.base import Placed

if TYPE_CHECKING:
    from sigsim.board.edit import Place
    from sigsim.board.model import Board
    from sigsim.decide.order.question import Rule


class Demand(NamedTuple):
    """One thing that is written at a box.

    Attributes
    ----------
    stage : at which it is written
    rule : what it is
    other : the stage or loop it names, empty for a fixed place
    """

    stage: str
    rule: Rule
    other: str


def unmet(board: Board) -> tuple[Demand, ...]:
    """Return what `before` and `after` ask and the board does otherwise, in the order of the file.

    A fixed place is always met, and what stands before the pickup is told by `hidden_pickups`.
    """
    return tuple(_unmet(board))


def _unmet(board: Board) -> Iterator[Demand]:
    places = standing(board.listed)
    for place in places.values():
        item = edit.item_at(board, place)
        if not isinstance(item, Placed):
            continue
        for name in item.before:
            if not _follows(board, place, places.get(name)):
                yield Demand(item.label, "before", name)
        for name in item.after:
            if name in places and not _follows(board, places[name], place):
                yield Demand(item.label, "after", name)


def _follows(board: Board, place: Place, other: Place | None) -> bool:
    """Return whether the signal meets what is at a place before another; also without the other."""
    if other is None:
        return True
    parts = parting(place, other)
    if parts is None or parts.one > parts.other:
        return False
    depth = len(parts.level)
    return not any(split_around(board.listed, way, depth) for way in (place, other))


def broken_by(changed: Board, board: Board) -> tuple[Demand, ...]:
    """Return what is written at the boxes of a board that a changed one breaks anew."""
    was = set(unmet(board))
    moved = _numbers(changed)
    fixed = (
        Demand(name, "fixed", "")
        for name, number in _numbers(board).items()
        if moved.get(name) != number
    )
    return (*(one for one in unmet(changed) if one not in was), *fixed)


def _numbers(board: Board) -> dict[str, tuple[str, int | None]]:
    """Return of each box with a fixed place what it is inside of, and its number there."""
    found: dict[str, tuple[str, int | None]] = {}
    levels: dict[Place, Level] = {}
    for name, place in standing(board.listed).items():
        item = edit.item_at(board, place)
        if isinstance(item, Placed) and item.fixed:
            around = edit.item_at(board, place[:-1]).label if len(place) > 1 else ""
            level = levels.get(place[:-1]) or Level(board, place[:-1])
            levels[place[:-1]] = level
            found[name] = around, level.owner(place)
    return found
