"""What a session asks of others: how edits are made, and what a board is in numbers."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol, TypeAlias

from sigsim.errors import SigsimError

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.live.document import Document

# Whether nobody waits for the answer any more.
Gone: TypeAlias = "Callable[[], bool]"


class Edited(Protocol):
    """A text after an edit."""

    @property
    def text(self) -> str:
        """Of the file."""

    @property
    def words(self) -> str:
        """What was done, in one line of plain language."""


class Desk:
    """All that is known of boards; a session itself knows of texts, revisions and files only."""

    def edited(self, text: str, edit: Mapping[str, Any], path: Path, variant: str) -> Edited:
        """Return a text after an edit."""
        from sigsim.live.edits import edited

        return edited(text, edit, path, variant)

    def board_of(self, text: str, path: Path, variant: str, at: str) -> Board:
        """Return the board that a text says, if it is not too large for the page."""
        from sigsim.decide.limits import refuse_beyond
        from sigsim.live.boards import board_of

        board = board_of(text, path, variant, at)
        refuse_beyond(board, "edit")
        return board

    def stamps(self, document: Document) -> dict[str, object]:
        """Return when each file was changed that the board names; nothing for one that is none."""
        from sigsim.live.boards import board_of, stamps_of

        try:
            board = board_of(document.text, document.path, document.variant)
        except SigsimError:
            return {}
        return stamps_of(board, document.path)

    def answer_of(
        self, document: Document, board: Board, words: str, saved: bool
    ) -> dict[str, Any]:
        """Return what the page is told of a document."""
        from sigsim.live.answer import answer_of

        return answer_of(document, board, words, saved)

    def worth(self, document: Document, on: list[str], gone: Gone) -> dict[str, Any]:
        """Return what is worth trying with these switches on; ends early where it is `gone`."""
        from sigsim.live.questions import worth

        at = document.variant, document.at
        return worth(document.text, document.path, on, gone, *at)

    def gaps(self, document: Document, part: str, on: list[str], gone: Gone) -> dict[str, Any]:
        """Return what a part would do in each gap."""
        from sigsim.live.questions import gaps

        at = document.variant, document.at
        return gaps(document.text, document.path, part, on, gone, *at)

    def details(self, board: Board, at: object) -> dict[str, Any]:
        """Return the figures of one thing."""
        from sigsim.live.questions import details

        return details(board, at)

    def parts(self, text: str, path: Path) -> list[dict[str, Any]]:
        """Return the parts of the library, and those of a file's own."""
        from sigsim.live.questions import parts_list

        return parts_list(text, path)

    def panel(self, board: Board, name: str) -> dict[str, Any]:
        """Return a document of results by its name."""
        from sigsim.live.questions import panel

        return panel(board, name)

    def sheet(self, board: Board) -> str:
        """Return the wiring sheet as a page of its own."""
        from sigsim.live.questions import sheet

        return sheet(board)

    def listen(
        self, now: Board, saved: Board, on: list[str], recording: Path | None, which: str
    ) -> bytes:
        """Return a recording as it would sound through one of two boards, as a wav file."""
        from sigsim.live.questions import listen

        return listen(now, saved, on, recording, which)

    def new_board(self, answers: Mapping[str, Any]) -> str:
        """Return the text of a board made of answers to plain questions."""
        from sigsim.live.questions import new_board

        return new_board(answers)
