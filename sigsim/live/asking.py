"""Questions about the document as it is now: answered beside the edits, which never wait."""

from __future__ import annotations

import tempfile
import threading
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from sigsim import stopping
from sigsim.errors import SigsimError, quote
from sigsim.live.others import included_file, open_editor

if TYPE_CHECKING:
    from collections.abc import Callable

    from sigsim.board.model import Board
    from sigsim.live.desk import Desk
    from sigsim.live.session import Session

_T = TypeVar("_T")


class CancelledError(SigsimError):
    """A newer question of the same kind has come."""


class Asking:
    """The questions of all windows.

    Parameters
    ----------
    session : whose document is asked about
    desk : who knows of boards
    """

    def __init__(self, session: Session, desk: Desk) -> None:
        self._session, self._desk = session, desk
        self._latest: dict[tuple[str, str], threading.Event] = {}
        self._lock = threading.Lock()
        self._listening = threading.Lock()
        self._recording: Path | None = None

    def worth(self, given: dict[str, Any]) -> dict[str, Any]:
        """Return what is worth trying."""
        document = self._session.look(given.get("revision"))
        kind = "worth", str(given.get("window"))
        return self._newest(kind, lambda gone: self._desk.worth(document, _names(given), gone))

    def gaps(self, given: dict[str, Any]) -> dict[str, Any]:
        """Return what a part would do in each gap."""
        document, part = self._session.look(given.get("revision")), given.get("part", "")
        if not isinstance(part, str):
            raise SigsimError("a part's name is wanted", where="part", found=quote(part))
        kind = "gaps", str(given.get("window"))
        return self._newest(kind, lambda gone: self._desk.gaps(document, part, _names(given), gone))

    def details(self, given: dict[str, Any]) -> dict[str, Any]:
        """Return the figures of one thing."""
        return self._desk.details(self._board(given.get("revision")), given.get("at"))

    def parts(self) -> list[dict[str, Any]]:
        """Return the parts there are, also before there is a board."""
        document = self._session.look() if self._session.revision else None
        return self._desk.parts(document.text if document else "", self._session.path)

    def panel(self, name: str) -> dict[str, Any]:
        """Return a document of results by its name."""
        return self._desk.panel(self._board(), name)

    def sheet(self) -> str:
        """Return the wiring sheet as a page of its own."""
        return self._desk.sheet(self._board())

    def listen(self, given: dict[str, Any]) -> bytes:
        """Return a recording as it would sound."""
        which = given.get("which")
        if which not in ("now", "saved"):
            raise SigsimError(
                "there is nothing of this name to hear", found=quote(which), accepted="now, saved"
            )
        document, now = self._session.look(), self._board()
        # Where nothing is saved yet, now is all there is to hear.
        text = document.text if document.saved is None else document.saved
        saved = self._desk.board_of(text, document.path, "", "")
        recording = self._recording if given.get("recording") else None
        with self._listening:
            return self._desk.listen(now, saved, _names(given), recording, which)

    def record(self, raw: bytes) -> dict[str, Any]:
        """Keep a recording that the user picked, until there is another or all ends."""
        with self._listening:
            self._forget()
            with tempfile.NamedTemporaryFile(prefix="sigsim-", delete=False) as file:
                stopping.keep(file.name)
                self._recording = Path(file.name)
                file.write(raw)
        return {"recording": True}

    def open_included(self, given: dict[str, Any]) -> dict[str, Any]:
        """Start an editor of a board that stands in a loop, and return where its page is."""
        file = included_file(self._board(), self._session.path, given.get("file"))
        return {"address": open_editor(file)}

    def create(self, given: dict[str, Any]) -> dict[str, Any]:
        """Begin with a new board, made of answers to plain questions."""
        return self._session.create(self._desk.new_board(given))

    def close(self) -> None:
        """Cancel all that is being computed, and keep nothing."""
        with self._lock:
            for gone in self._latest.values():
                gone.set()
        self._forget()

    def _forget(self) -> None:
        if self._recording is not None:
            self._recording.unlink(missing_ok=True)
            stopping.forget(str(self._recording))
            self._recording = None

    def _board(self, revision: object = None) -> Board:
        document = self._session.look(revision)
        return self._desk.board_of(document.text, document.path, document.variant, document.at)

    def _newest(self, kind: tuple[str, str], work: Callable[[Callable[[], bool]], _T]) -> _T:
        """Answer a question of a window and cancel the one of its kind before it."""
        mine = threading.Event()
        with self._lock:
            if before := self._latest.get(kind):
                before.set()
            self._latest[kind] = mine
        try:
            answer = work(mine.is_set)
        except Exception:
            if not mine.is_set():
                raise
        finally:
            with self._lock:
                if self._latest.get(kind) is mine:
                    del self._latest[kind]
        if mine.is_set():
            raise CancelledError("a newer question has come")
        return answer


def _names(given: dict[str, Any]) -> list[str]:
    on = given.get("on", [])
    if not isinstance(on, list) or not all(isinstance(name, str) for name in on):
        raise SigsimError("the names of what is on are wanted", where="on", found=quote(on))
    return on
