"""What the page is told after each step: the board, and what undo and redo would do."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from sigsim.decide.check.cautions import cautions
from sigsim.live.boards import board_of as board_of
from sigsim.show.check import caution_text
from sigsim.show.page.data import board_data

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.live.document import Document


# The worst state is looked for so long [s]: an answer must not keep an edit waiting.
SECONDS: Final = 2.0


def answer_of(
    document: Document, board: Board, words: str, with_saved: bool = False
) -> dict[str, Any]:
    """Return an answer as types.js has it.

    Parameters
    ----------
    document : whose text the board is
    board : as it is shown: with the document's variant, heard at its end
    words : of what was just done, empty for nothing
    with_saved : whether the board as the file on disk has it comes with it
    """
    answer: dict[str, Any] = {
        "revision": document.revision,
        "title": board.title,
        "file": document.file,
        "unsaved": document.unsaved,
        "undo": document.undo_words,
        "redo": document.redo_words,
        "words": words,
        "board": board_data(board, seconds=SECONDS),
        "variant": document.variant,
        "variants": variants_of(board),
        "cautions": [caution_text(caution) for caution in cautions(board)],
    }
    if with_saved and (saved := _saved(document)) is not None:
        answer["saved"] = board_data(saved, seconds=SECONDS)
    return answer


def variants_of(board: Board) -> list[dict[str, str]]:
    """Return the variants of a board's file, each with what it changes in words."""
    told = {version.name: version for version in board.versions}
    return [{"name": name, "words": _words(told.get(name))} for name in board.variants]


def _words(version: Any) -> str:
    if version is None:
        return ""
    said = [
        f"{one.now or one.name}: {', '.join(value for _, value in one.keys)}".removesuffix(": ")
        for one in version.altered
    ]
    out = f"without {', '.join(version.out)}" if version.out else ""
    return "; ".join(filter(None, (*said, out)))


def _saved(document: Document) -> Board | None:
    """Return the board as it is on disk, None where that is no board with this variant and end."""
    from sigsim.errors import SigsimError

    if document.saved is None:
        return None
    for variant, at in ((document.variant, document.at), ("", "")):
        try:
            return board_of(document.saved, document.path, variant, at)
        except SigsimError:
            continue
    return None
