"""Boards read from the text of a document: each text is read once."""

from __future__ import annotations

from collections import OrderedDict
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Final, TypeAlias

from sigsim.board.changes import NO_CHANGES, Changes
from sigsim.board.reader import parse_board

if TYPE_CHECKING:
    from collections.abc import Iterable

    from sigsim.board.model import Board

# Of each file that was read too: when it was changed and how long it was; None where it is gone.
_Stamps: TypeAlias = tuple[tuple[str, tuple[int, int] | None], ...]

# The document as it is, as it was, as saved, and what is tried while something is dragged.
_MOST_KEPT: Final = 24
_lock: Final = Lock()
_kept: OrderedDict[tuple[str, str, str], tuple[Board, _Stamps]] = OrderedDict()


def board_of(text: str, path: Path, variant: str = "", at: str = "") -> Board:
    """Return the board that a text says; the file itself is not looked at, those it names are.

    Parameters
    ----------
    text : of the board file
    path : where it stands, so that the files it names are found
    variant : that is shown, empty for the file as it is written
    at : the split at whose end one listens, empty for the end of the chain

    Raises
    ------
    BoardError : with every problem of the text
    SigsimError : the text is no TOML, or has no such variant or end
    """
    key = (text, str(path), variant)
    with _lock:
        found = _kept.get(key)
    if found is None or _stamps(name for name, _ in found[1]) != found[1]:
        changes = Changes((variant,)) if variant else NO_CHANGES
        board = parse_board(text, str(path), changes, lacking=True)
        found = board, _stamps(name for name in board.files if name != str(path))
    with _lock:
        _kept[key] = found
        _kept.move_to_end(key)
        while len(_kept) > _MOST_KEPT:
            _kept.popitem(last=False)
    return found[0].heard_at(at) if at else found[0]


def stamps_of(board: Board, path: Path) -> dict[str, object]:
    """Return when each file was changed, and how long it is, that a board was read from.

    Parameters
    ----------
    board : the board
    path : of its own file, which is not among them
    """
    return dict(_stamps(name for name in board.files if name != str(path)))


def _stamps(files: Iterable[str]) -> _Stamps:
    return tuple((name, _stamp(name)) for name in files)


def _stamp(name: str) -> tuple[int, int] | None:
    try:
        found = Path(name).stat()
    except (OSError, ValueError):
        return None
    return found.st_mtime_ns, found.st_size
