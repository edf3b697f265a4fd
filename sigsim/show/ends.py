"""At which end of a board one listens, and what it was read with, in words and as JSON values."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from sigsim.decide.silence import silence
from sigsim.show.render.text import plain

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import On

# What is asked where nothing comes out.
KNOB: Final = "is a volume knob at 0?"


def at_end(board: Board, sentence: str) -> str:
    """Return a sentence that says of what it holds: with which changes, and at which end.

    Parameters
    ----------
    board : listened at one of its ends
    sentence : what was found there
    """
    return placed(", ".join(filter(None, (changed(board), where(board)))), sentence)


def changed(board: Board) -> str:
    """Return the words for the variants and values a board was read with, empty for none."""
    return plain(board.changes.said, 120)


def placed(end: str, sentence: str) -> str:
    """Return a sentence behind the words for an end, which may be empty."""
    if not end:
        return sentence
    # A sentence's first word becomes small; a letter that stands for a board does not.
    first = sentence[:1].lower() if sentence[1:2].islower() else sentence[:1]
    return f"{end[:1].upper()}{end[1:]}: {first}{sentence[1:]}"


def where(board: Board) -> str:
    """Return the words for the end one listens at, empty where the board has no other."""
    if len(board.ends) == 1:
        return ""
    return f"at '{plain(board.at or board.destination.name, 30)}'"


def why_silent(board: Board, on: On) -> str:
    """Return why nothing comes out in a state, or a question where the file does not tell."""
    found = silence(board, on)
    said = {
        "loop out": f"the loop '{plain(found.name, 30)}' around it is out",
        "pickups cancel": "the pickups are of opposite polarity and cancel",
        "knob at 0": f"{plain(found.name, 60)} is at 0",
    }
    return said.get(found.cause, KNOB)


def ended(text: str) -> str:
    """Return a sentence with its full stop, unless it is a question."""
    return text if text.endswith("?") else f"{text}."


def at_value(*boards: Board) -> dict[str, Any]:
    """Return the split one listens at, and what boards were read with, as plain JSON values.

    Null is the main destination, or that not all of several boards are listened at one end or
    were read with the same changes.
    """
    ends = {board.at for board in boards}
    return {"at": (ends.pop() or None) if len(ends) == 1 else None, **changes_value(*boards)}


def changes_value(*boards: Board) -> dict[str, Any]:
    """Return the variants and values that boards were read with as plain JSON values."""
    made = {board.changes for board in boards}
    if len(made) != 1:
        return {"variants": None, "set": None}
    changes = made.pop()
    return {"variants": list(changes.variants), "set": list(changes.values)}
