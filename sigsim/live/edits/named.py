"""What a person calls the things of a board, in the words of undo."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING, Any

from sigsim.board import edit
from sigsim.items.cable import Cable
from sigsim.items.split import Split
from sigsim.items.tap import Tap
from sigsim.quantities import length_text
from sigsim.show.page.things import things

if TYPE_CHECKING:
    from sigsim.board.edit import Place
    from sigsim.board.model import Board
    from sigsim.show.page.things import Thing

# The word for a loop's own cables, by the side that the page names.
LEADS = {"out": "lead_out", "back": "lead_back"}


def about_cable(board: Board, place: Place, *, wiring: bool = False) -> Mapping[str, Any] | None:
    """Return what the line says of a cable, None where there is none.

    Parameters
    ----------
    board : the board
    place : of the cable or, of `wiring`, of what stands behind it; behind the last of a loop's for
        the return
    """
    at = {"wiring" if wiring else "place": place}
    return next((one for one in _abouts(things(board)) if one.get("at") == at), None)


def cable_words(board: Board, place: Place) -> str:
    """Return what the line calls a cable of the file."""
    about = about_cable(board, place)
    return "cable" if about is None else str(about["name"])


def _abouts(along: Iterable[Thing]) -> Iterator[Mapping[str, Any]]:
    for thing in along:
        yield thing.about
        yield from _abouts(thing.inside)


def change_words(what: str, before: object, after: str) -> str:
    """Return the words of a length that changes: `cable to amp 9 m → 6 m`."""
    return f"{what} {length_text(before)} → {after}" if before else f"{what} {after}"


def spoken(part: str) -> str:
    """Return a part's name as words: `compressor true bypass`."""
    return part.replace("-", " ")


def after_words(board: Board, place: Place, *, there: bool = False) -> str:
    """Return where something is put that comes to a place: `after bilge fuzz`.

    Parameters
    ----------
    board : the board
    place : of what is put in
    there : whether it is there already
    """
    items = edit.siblings(board, place)
    boxes = [item for item in items[: place[-1]] if not isinstance(item, Cable | Tap | Split)]
    if boxes:
        return f"after {boxes[-1].label}"
    if len(place) > 1:
        return f"first in {edit.item_at(board, place[:-1]).label}"
    rest = items[place[-1] + there :]
    behind = [item for item in rest if not isinstance(item, Cable | Tap | Split)]
    return f"before {behind[0].label}" if behind else "after the lead"


def article(name: str) -> str:
    """Return a name with its article."""
    return f"{'an' if name[:1].casefold() in 'aeiou' else 'a'} {name}"
