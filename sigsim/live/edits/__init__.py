"""Edits of a board: each a small change of the file's text, with words for undo."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from sigsim.errors import SigsimError
from sigsim.live.boards import board_of
from sigsim.live.edits import (
    boxes as _boxes,  # noqa: F401  registers its edits, as do all below
)
from sigsim.live.edits import cables as _cables  # noqa: F401
from sigsim.live.edits import inserting as _inserting  # noqa: F401
from sigsim.live.edits import looping as _looping  # noqa: F401
from sigsim.live.edits import scenes as _scenes  # noqa: F401
from sigsim.live.edits import values as _values  # noqa: F401
from sigsim.live.edits import whole as _whole  # noqa: F401
from sigsim.live.edits.registry import EDITS as EDITS
from sigsim.live.edits.registry import Asked, editing
from sigsim.live.edits.registry import Edited as Edited
from sigsim.text import shown

if TYPE_CHECKING:
    from sigsim.board.model import Board


# A button has no room for more.
_LONGEST: Final = 120


def edited(text: str, edit: Mapping[str, Any], path: Path, variant: str = "") -> Edited:
    """Return a board file's text after an edit.

    Parameters
    ----------
    text : of the file, a valid board unless the edit gives another text
    edit : as the page sent it, see `Edit` of types.js
    path : of the file
    variant : that is shown, empty for the file as written; what it can carry goes into its table

    Returns
    -------
    the text with as little changed as can be, and words for undo

    Raises
    ------
    BoardError : the text would be no board any more, with every problem
    SigsimError : the edit says nothing, or cannot be made in this text
    """
    _refuse_unwritable(edit)
    asked = Asked(text, edit, path, variant)
    made = editing(edit)(asked)
    new = made.text if edit["do"] == "text" else _ended_as(made.text, text)
    if new != text and edit["do"] != "text":
        board = board_of(new, path, "" if edit["do"] == "variant-out" else variant)
        _refuse_lacking(board, asked.board)
    words = shown(made.words)
    return Edited(new, words if len(words) <= _LONGEST else f"{words[: _LONGEST - 1]}…")


def _refuse_lacking(board: Board, before: Board) -> None:
    """Refuse a change after which a layout no longer gives a cable its length.

    Raises
    ------
    SigsimError : naming that cable, and what mends it
    """
    if len(board.lacking) > len(before.lacking):
        known = {one.between for one in before.lacking}
        lost = next((one for one in board.lacking if one.between not in known), board.lacking[-1])
        problem = lost.problem(board.file)
        raise SigsimError(
            problem.what, where=problem.where, found=problem.found, accepted=problem.accepted
        )


def _refuse_unwritable(value: object) -> None:
    """Refuse texts that no file in UTF-8 can hold.

    Raises
    ------
    SigsimError : there is one
    """
    if isinstance(value, str):
        try:
            value.encode()
        except UnicodeEncodeError:
            raise SigsimError("half a character cannot be written into a file") from None
    elif isinstance(value, Mapping):
        for key, entry in value.items():
            _refuse_unwritable(key)
            _refuse_unwritable(entry)
    elif isinstance(value, list | tuple):
        for entry in value:
            _refuse_unwritable(entry)


def _ended_as(text: str, before: str) -> str:
    """Return a text whose last line ends as it did before."""
    if before.endswith("\n") == text.endswith("\n"):
        return text
    if before.endswith("\n"):
        return f"{text}\r\n" if before.endswith("\r\n") else f"{text}\n"
    return text.rstrip("\r\n")
