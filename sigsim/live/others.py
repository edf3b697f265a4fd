"""Boards inside the one that is edited: each in an editor of its own, and followed when saved."""

from __future__ import annotations

import re
import subprocess
import sys
import threading
from pathlib import Path
from typing import TYPE_CHECKING, Final

from sigsim.errors import SigsimError, quote
from sigsim.items.loop import Loop

if TYPE_CHECKING:
    from sigsim.board.model import Board

_ADDRESS: Final = re.compile(r"http://127\.0\.0\.1:[0-9]+/\S*")
# How long another editor may take to begin [s].
_LONGEST: Final = 30.0


def included_file(board: Board, path: Path, name: object) -> Path:
    """Return the file of a board that stands in a loop of this one.

    Parameters
    ----------
    board : that is edited
    path : of its file
    name : as its file names the other, whatever way round it is written

    Raises
    ------
    SigsimError : no loop holds a board of such a file
    """
    held = {
        Path(item.board): path.parent / item.board
        for item in board.items()
        if isinstance(item, Loop) and item.board
    }
    found = held.get(Path(name)) if isinstance(name, str) else None
    if found is None:
        names = ", ".join(sorted(str(file) for file in held)) or "none"
        raise SigsimError("no board inside has this file", found=quote(name), accepted=names)
    return found


def open_editor(path: Path) -> str:
    """Start an editor of another file, which ends as any does, and return the page's address.

    Parameters
    ----------
    path : of the board file

    Raises
    ------
    SigsimError : it has not begun: the file is being edited already, or cannot be
    """
    process = subprocess.Popen(
        [sys.executable, "-m", "sigsim", "edit", "--no-browser", "--", str(path)],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
        errors="replace",
    )
    late = threading.Timer(_LONGEST, process.kill)
    late.start()
    said: list[str] = []
    assert process.stdout is not None, "it was asked for"
    for line in process.stdout:
        said.append(line)
        found = _ADDRESS.search(line)
        if found and "?token=" in line:
            late.cancel()
            threading.Thread(target=_drained, args=(process,), daemon=True).start()
            return found[0]
    late.cancel()
    with process:
        why = " ".join("".join(said).split()).removeprefix("error: ")
    raise SigsimError(why or "the other editor has not begun", where=path.name)


def _drained(process: subprocess.Popen[str]) -> None:
    """Read what it says further on, so that it never waits for a reader, and see it end."""
    assert process.stdout is not None, "it was asked for"
    with process:
        for _ in process.stdout:
            pass
