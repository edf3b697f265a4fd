"""The words of `do`, and what an edit is asked for."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeAlias

from sigsim.errors import SigsimError, nearest, quote
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.live.boards import board_of

if TYPE_CHECKING:
    from sigsim.board.edit import Place
    from sigsim.board.model import Board
    from sigsim.items.base import Item

# A way of a file's tables, and its items, are no deeper than this.
_DEEPEST: Final = 40
# What the page sends of the whole file is counted by the server; all else is short.
_LONGEST: Final = 4000


@dataclass(frozen=True)
class Edited:
    """A text after an edit.

    Attributes
    ----------
    text : of the file
    words : what was done, for undo: one line
    """

    text: str
    words: str


Editing: TypeAlias = Callable[["Asked"], Edited]
EDITS: Final[dict[str, Editing]] = {}


def edits(*words: str) -> Callable[[Editing], Editing]:
    """Register what makes the edits of some words."""

    def register(function: Editing) -> Editing:
        EDITS.update(dict.fromkeys(words, function))
        return function

    return register


@dataclass(frozen=True)
class Asked:
    """An edit, and what it is made to.

    Attributes
    ----------
    text : of the file
    edit : as the page sent it
    path : of the file
    variant : that is shown, empty for the file as written
    """

    text: str
    edit: Mapping[str, Any]
    path: Path
    variant: str

    @cached_property
    def board(self) -> Board:
        """The board as it is shown."""
        return board_of(self.text, self.path, self.variant)

    def word(self, key: str, otherwise: str | None = None) -> str:
        """Return a text that the edit gives.

        Raises
        ------
        SigsimError : it gives none, and there is nothing to take otherwise
        """
        found = self.edit.get(key, otherwise)
        line = isinstance(found, str) and len(found) <= _LONGEST and "\n" not in found
        if isinstance(found, str) and line and (found.strip() or found == otherwise):
            return found.strip()
        raise refusal(f"a text is wanted for {key} in this edit", found, "one line of text")

    def words(self, key: str) -> list[str]:
        """Return a list of texts that the edit gives."""
        found = self.edit.get(key)
        if isinstance(found, list) and all(isinstance(one, str) for one in found):
            return found
        raise refusal(f"a list of names is wanted for {key} in this edit", found, "names")

    def number(self, key: str) -> int:
        """Return a whole number that the edit gives."""
        found = self.edit.get(key)
        if isinstance(found, int) and not isinstance(found, bool):
            return found
        raise refusal(f"a whole number is wanted for {key} in this edit", found, "such as -1 or 1")

    def table(self, key: str) -> dict[str, Any]:
        """Return a table that the edit gives."""
        found = self.edit.get(key)
        if isinstance(found, Mapping) and all(isinstance(one, str) for one in found):
            return dict(found)
        raise refusal(f"a table is wanted for {key} in this edit", found, "keys with values")

    def spot(self, key: str = "at") -> Mapping[str, Any]:
        """Return where something stands, as the page got it."""
        found = self.edit.get(key)
        if isinstance(found, Mapping):
            return found
        raise refusal("this does not say where", found, f"{key} of something on the line")

    def place(self, key: str = "at", within: str = "place") -> Place:
        """Return the place of what is edited, or of a gap: in the list of its level, or behind it.

        Raises
        ------
        SigsimError : there is no such place on the board
        """
        behind = key != "at" or within != "place"
        return place_on(self.board, self.spot(key).get(within), behind=behind)

    def as_written(self) -> None:
        """Refuse an edit that no variant can carry while one is shown.

        Raises
        ------
        SigsimError : saying how it can be made
        """
        if self.variant:
            raise SigsimError(
                "a variant cannot change this: it changes values and parts, and leaves things out",
                found=f"the variant {quote(self.variant)}",
                accepted='choose "as written" first, and then the edit',
            )


def place_on(board: Board, found: object, *, behind: bool = False) -> Place:
    """Return a place of a board, or one behind the last of a list.

    Raises
    ------
    SigsimError : there is no such place
    """
    listed = found if isinstance(found, list | tuple) and len(found) <= _DEEPEST else ()
    if not listed or not all(type(step) is int and step >= 0 for step in listed):
        raise refusal("this is nothing that can be edited here", found, "a place on the line")
    items: tuple[Item, ...] | None = board.listed
    for step in listed[:-1]:
        items = _inside(items[step]) if items and step < len(items) else None
    if items is None or listed[-1] > len(items) - (not behind):
        raise refusal("there is no such place on the board any more", list(listed), "")
    return tuple(listed)


def refusal(what: str, found: object, accepted: str) -> SigsimError:
    """Return the error of an edit that says no such thing."""
    return SigsimError(what, found="" if found is None else quote(found), accepted=accepted)


def editing(edit: Mapping[str, Any]) -> Editing:
    """Return what makes an edit.

    Raises
    ------
    SigsimError : there is no such word
    """
    do = edit.get("do")
    if isinstance(do, str) and do in EDITS:
        return EDITS[do]
    near = nearest(do, EDITS) if isinstance(do, str) else None
    raise SigsimError(
        "there is no such edit",
        found="nothing" if do is None else quote(do),
        accepted=", ".join(EDITS),
        nearest=near,
    )


def _inside(item: Item) -> tuple[Item, ...] | None:
    return item.inside if isinstance(item, Loop | Split) else None
