"""Which of a board's things stand in the file of another board, inside one of its loops."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sigsim.board.included import of_board
from sigsim.errors import SigsimError, quote, shown_path
from sigsim.items.loop import Loop
from sigsim.items.split import Split

if TYPE_CHECKING:
    from sigsim.board.edit import Place
    from sigsim.board.model import Board
    from sigsim.items.base import Item
    from sigsim.items.cable import Cable


@dataclass(frozen=True)
class Held:
    """A board inside another one.

    Attributes
    ----------
    loop : that holds it
    file : its path from the folder of the outermost board
    cables : what stands before the names of its cables
    """

    loop: Loop
    file: str
    cables: str

    def within(self, loop: Loop) -> Held:
        """Return the board in a loop of this one."""
        file = os.path.normpath(os.path.join(os.path.dirname(self.file), loop.board))
        return Held(loop, file, self.cables + of_board(loop.loop))


def boards_inside(items: Sequence[Item], around: Held | None = None) -> Iterator[Held]:
    """Yield the boards in loops among some items, each before those in it.

    Parameters
    ----------
    items : as listed or as wired
    around : the board that they are in, None for the outermost
    """
    for item in items:
        if isinstance(item, Loop | Split):
            held = held_by(item, around)
            if held is not None and held is not around:
                yield held
            yield from boards_inside(item.inside, held)


def held_by(item: Item, around: Held | None) -> Held | None:
    """Return the board that the things inside an item are in.

    Parameters
    ----------
    item : a loop or a split
    around : the board that it is in itself, None for the outermost
    """
    if not isinstance(item, Loop) or not item.board:
        return around
    if around is None:
        return Held(item, os.path.normpath(item.board), of_board(item.loop))
    return around.within(item)


def board_of_cable(board: Board, name: str) -> Held | None:
    """Return the board inside whose cable goes by a name, None for one of the board's own."""
    found = None
    for held in boards_inside(board.listed):
        if name.startswith(held.cables) and (found is None or len(held.cables) > len(found.cables)):
            found = held
    return found


def board_of_place(board: Board, place: Place) -> Held | None:
    """Return the board inside in whose file a place is, None for the board's own file.

    The leads to a board inside stand in the table of the loop, so that their place is inside too.
    """
    held, items = None, board.listed
    for index in place[:-1]:
        group = items[index]
        assert isinstance(group, Loop | Split), "a place leads through loops and splits"
        held, items = held_by(group, held), group.inside
    return held


def refuse_elsewhere(held: Held | None, found: str, *, where: str = "") -> None:
    """Refuse to change in a board's own file what stands in another one.

    Parameters
    ----------
    held : the board inside in which it stands, None for none
    found : what was to be changed, as a message quotes it
    where : what a message calls the place that asks for it

    Raises
    ------
    SigsimError : it stands in another file, which is named
    """
    if held is not None:
        raise SigsimError(
            f"this stands in {shown_path(held.file)}, the board in the loop "
            f"{quote(held.loop.loop)}, and cannot be written into this file",
            where=where,
            found=found,
            accepted=f"the same for {shown_path(held.file)} itself",
        )


def wirings(board: Board) -> Iterator[Cable]:
    """Yield the cables that are put where none is named: the board's, and those of boards in it."""
    if board.wiring is not None:
        yield board.wiring
    yield from (h.loop.wiring for h in boards_inside(board.listed) if h.loop.wiring is not None)
