"""Where a changed copy of a board may lie that names other files by paths from its own folder."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from sigsim.errors import OutputError, shown_path

if TYPE_CHECKING:
    from sigsim.board.model import Board


def check_beside(board: Board, path: str) -> None:
    """Refuse to write a board over a file that it names, or where it would not find those.

    Parameters
    ----------
    board : as it was read
    path : of the changed copy

    Raises
    ------
    OutputError : it lies in another folder than the board, or is one of these files
    """
    others = {os.path.realpath(file) for file in board.files[1:]}
    if os.path.realpath(path) in others:
        what = "this board is read from this file too, and it would be overwritten"
        raise OutputError(what, where=shown_path(path), accepted="another file's name")
    home, there = (os.path.realpath(os.path.dirname(file)) for file in (board.file, path))
    if board.files[1:] and home != there:
        raise OutputError(
            "this board names other files by their paths from its own folder, and would not find "
            "them from another one",
            where=shown_path(path),
            accepted=f"a file beside {shown_path(board.file)}",
        )
