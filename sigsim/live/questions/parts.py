"""The parts that can be put in, with the words that players have for them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from sigsim.board.parts import OURS, Library, Part
from sigsim.errors import SigsimError
from sigsim.live.boards import board_of


def parts_list(text: str, path: Path) -> list[dict[str, Any]]:
    """Return every part, the file's own first, as types.js and asked.js have it.

    Parameters
    ----------
    text : of the board file, empty where there is none yet
    path : of it
    """
    return [_told(part) for part in _library(text, path).parts().values()]


def _library(text: str, path: Path) -> Library:
    if not text:
        return OURS
    try:
        return board_of(text, path).library
    except SigsimError:  # a text in which something is wrong can still have parts put in
        return OURS


def _told(part: Part) -> dict[str, Any]:
    return {
        "part": part.name,
        "kind": part.kind,
        "summary": part.summary,
        "role": str(part.values.get("role", "")),
        "isolates": isolates(part),
        "aliases": list(part.aliases),
    }


def isolates(part: Part) -> bool:
    """Return whether a part is a stage that isolates even when it is off."""
    if part.kind != "stage" or part.values.get("kind", "active") != "active":
        return False
    return bool(part.values.get("always_on")) or part.values.get("bypass") == "buffered"
