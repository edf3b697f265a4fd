"""Edits of the file as a whole: its title, and its text."""

from __future__ import annotations

from sigsim.board.edit_file import titled
from sigsim.errors import SigsimError
from sigsim.live.boards import board_of
from sigsim.live.edits.registry import Asked, Edited, edits, refusal


@edits("title")
def title(asked: Asked) -> Edited:
    """Give the board another title."""
    found = asked.word("name") if "name" in asked.edit else asked.word("text")
    return Edited(titled(asked.text, found), f"title: {found}")


@edits("text")
def text(asked: Asked) -> Edited:
    """Take another text for the whole file."""
    found = asked.edit.get("text")
    if not isinstance(found, str):
        raise refusal("a text is wanted for the file", found, "the text of a board file")
    # So that what is wrong is told even where nothing differs from a text that was wrong before.
    board_of(found, asked.path)
    return Edited(found, "the text of the file")


@edits("at")
def at(asked: Asked) -> Edited:
    """Listen at another end: the file stays as it is."""
    end = asked.edit.get("name", "")
    if not isinstance(end, str):
        raise SigsimError("an end is told by its name")
    asked.board.heard_at(end)
    return Edited(asked.text, "")
