"""The way to a thing's table in a file, and what of it this file does not hold."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sigsim.board.inside import board_of_place
from sigsim.errors import SigsimError, quote, shown_path

if TYPE_CHECKING:
    from sigsim.board.edit import Place
    from sigsim.board.edit_table import Way
    from sigsim.board.model import Board


def way_of(place: Place) -> Way:
    """Return the way from the top of a file to the table of a place."""
    first, *rest = place
    return ("chain", first, *(step for index in rest for step in ("inside", index)))


def refuse_included(board: Board, place: Place) -> None:
    """Refuse what stands in the file of a board inside.

    Raises
    ------
    SigsimError : it does, naming that file
    """
    held = board_of_place(board, place)
    if held is not None:
        file = shown_path(held.file)
        raise SigsimError(
            f"this stands in {file}, the board in the loop {quote(held.loop.loop)}",
            accepted=f"the same in {file}",
        )
