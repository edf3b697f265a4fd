"""Where a changed copy of a board file may lie: it names other files from the folder it is in."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from sigsim.errors import OutputError, shown_path

if TYPE_CHECKING:
    from sigsim.board.model import Board


def check_beside(board: Board, path: str) -> None:
    """Refuse to write a board that names other files into a folder where it would not find them.

    Parameters
    ----------
    board : as it was read
    path : of the changed copy

    Raises
    ------
    OutputError : it lies in another folder than the board
    """
    home, there = (os.path.realpath(os.path.dirname(file)) for file in (board.file, path))
    if board.files[1:] and home != there:
        raise OutputError(
            "this board names other files by their paths from its own folder, and would not find "
            "them from another one",
            where=shown_path(path),
            accepted=f"a file beside {shown_path(board.file)}",
        )
