"""Questions about the document as it is now: answered beside the edits, which never wait."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING, Any

from sigsim.errors import SigsimError, nearest, quote

if TYPE_CHECKING:
    from collections.abc import Callable

    from sigsim.live.desk import Desk
    from sigsim.live.session import Session


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
        self._latest: dict[str, threading.Event] = {}
        self._lock = threading.Lock()
        self._recording: bytes | None = None

    def worth(self, given: dict[str, Any]) -> dict[str, Any]:
        """Return what is worth trying."""
        document = self._session.look(given.get("revision"))
        return self._newest(
            "worth", lambda gone: self._desk.worth(document, _names(given), gone)
        )

    def gaps(self, given: dict[str, Any]) -> dict[str, Any]:
        """Return what a part would do in each gap."""
        document, part = self._session.look(given.get("revision")), given.get("part", "")
        if not isinstance(part, str):
            raise SigsimError("a part's name is wanted", found=quote(part))
        return self._newest(
            "gaps", lambda gone: {"gaps": self._desk.gaps(document, part, _names(given), gone)}
        )

    def details(self, given: dict[str, Any]) -> dict[str, Any]:
        """Return the figures of one thing."""
        return self._desk.details(self._session.look(given.get("revision")), given.get("at"))

    def parts(self) -> list[dict[str, Any]]:
        """Return the parts there are."""
        return self._desk.parts(self._session.look())

    def panel(self, name: str) -> dict[str, Any]:
        """Return a document of results by its name."""
        return self._desk.panel(self._session.look(), name)

    def sheet(self) -> bytes:
        """Return the wiring sheet as a page of its own."""
        return self._desk.sheet(self._session.look()).encode()

    def listen(self, given: dict[str, Any]) -> bytes:
        """Return a recording as it would sound."""
        which = given.get("which")
        if which not in ("now", "saved"):
            raise SigsimError(
                "there is nothing of this name to hear",
                found=quote(which),
                accepted="now, saved",
                nearest=nearest(which, ("now", "saved")) if isinstance(which, str) else None,
            )
        recording = self._recording if given.get("recording") else None
        document = self._session.look()
        return self._newest(
            f"listen {which}",
            lambda gone: self._desk.listen(document, which, _names(given), recording, gone),
        )

    def record(self, raw: bytes) -> dict[str, Any]:
        """Keep a recording that the user picked, until there is another."""
        self._recording = raw
        return {"recording": bool(raw)}

    def create(self, given: dict[str, Any]) -> dict[str, Any]:
        """Begin with a new board, made of answers to plain questions."""
        return self._session.create(self._desk.new_board(given, self._session.path))

    def cancel(self) -> None:
        """Cancel all that is being computed."""
        with self._lock:
            for gone in self._latest.values():
                gone.set()

    def _newest(self, kind: str, work: Callable[[Callable[[], bool]], Any]) -> Any:
        """Answer a question and cancel the one of its kind before it."""
        mine = threading.Event()
        with self._lock:
            if before := self._latest.get(kind):
                before.set()
            self._latest[kind] = mine
        answer = work(mine.is_set)
        if mine.is_set():
            raise CancelledError("a newer question has come")
        return answer


def _names(given: dict[str, Any]) -> list[str]:
    on = given.get("on", [])
    if not isinstance(on, list) or not all(isinstance(name, str) for name in on):
        raise SigsimError("the names of what is on are wanted", where="on", found=quote(on))
    return on
