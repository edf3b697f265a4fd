"""What a person calls the things of a board, in the words of undo."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sigsim.board import edit
from sigsim.items.cable import Cable
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.items.tap import Tap
from sigsim.quantities import length_text

if TYPE_CHECKING:
    from sigsim.board.edit import Place
    from sigsim.board.model import Board

# The word for a loop's own cables, by the side that the page names.
LEADS = {"out": "lead_out", "back": "lead_back"}


def cable_words(board: Board, place: Place) -> str:
    """Return what a cable is called that the file lists, or that belongs before a place.

    Parameters
    ----------
    board : the board
    place : of the cable, or of what stands behind it; behind the last of a loop's for the return
    """
    items = edit.siblings(board, place)
    listed = place[-1] < len(items) and isinstance(items[place[-1]], Cable)
    if listed and place == board.lead_place:
        return "lead"
    role = _role(board, place) if listed else board.wiring.cable if board.wiring else "cable"
    rest = items[place[-1] + listed :]
    following = next((item for item in rest if not isinstance(item, Tap | Split)), None)
    if following is None:
        return _ending(board, place, role)
    if isinstance(following, Cable):
        return f"{role} {number_of(board, place)}"
    return f"{role} before {following.label}"


def _ending(board: Board, place: Place, role: str) -> str:
    """Return what the last cable of a list is called."""
    group = edit.item_at(board, place[:-1]) if len(place) > 1 else None
    if isinstance(group, Loop):
        return f"{role} back from {group.loop}"
    return (
        f"cable to {group.destination.name if isinstance(group, Split) else board.destination.name}"
    )


def number_of(board: Board, place: Place) -> int:
    """Return which of the cables of its list one is, from 1."""
    items = edit.siblings(board, place)[: place[-1] + 1]
    return sum(isinstance(item, Cable) for item in items)


def _role(board: Board, place: Place) -> str:
    item = edit.item_at(board, place)
    return item.cable if isinstance(item, Cable) else "cable"


def change_words(what: str, before: object, after: str) -> str:
    """Return the words of a length that changes: `cable to amp 9 m → 6 m`."""
    return f"{what} {length_text(before)} → {after}" if before else f"{what} {after}"


def after_words(board: Board, place: Place) -> str:
    """Return where something is put that comes to a place: `after bilge fuzz`."""
    items = edit.siblings(board, place)
    boxes = [item for item in items[: place[-1]] if not isinstance(item, Cable | Tap | Split)]
    if boxes:
        return f"after {boxes[-1].label}"
    if len(place) > 1:
        return f"first in {edit.item_at(board, place[:-1]).label}"
    behind = [item for item in items[place[-1] :] if not isinstance(item, Cable | Tap | Split)]
    return f"before {behind[0].label}" if behind else "after the lead"


def article(name: str) -> str:
    """Return a name with its article."""
    return f"{'an' if name[:1].casefold() in 'aeiou' else 'a'} {name}"
