"""A session without a word about boards, and an editor that runs."""
# ruff: noqa: ARG002  one interface for this desk and for that of the program

from __future__ import annotations

import socket
import threading
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any, cast

import httpx

from sigsim.board.model import Board
from sigsim.errors import BoardError, Problem, SigsimError
from sigsim.live.desk import Desk
from sigsim.live.document import Document
from sigsim.live.running import Ended, Hooks, bound, run
from sigsim.live.session import Session


class Plain:
    """A text after an edit."""

    def __init__(self, text: str, words: str) -> None:
        self.text, self.words = text, words


class PlainDesk(Desk):
    """Takes any text for a board but one with "broken" in it; variants and ends stand in it."""

    def edited(self, text: str, edit: Mapping[str, Any], path: Path, variant: str) -> Plain:
        """Put in another text, or one more line."""
        if edit.get("do") == "text":
            new = edit["text"]
            self.board_of(new, path, "", "")
            return Plain(new, "the text")
        if edit.get("do") == "line":
            return Plain(f"{text}{edit['line']}\n", f"line {edit.get('words', edit['line'])}")
        raise SigsimError("there is no such edit", where="do")

    def board_of(self, text: str, path: Path, variant: str, at: str) -> Board:
        """Return the text itself."""
        if "broken" in text:
            line = text[: text.index("broken")].count("\n") + 1
            raise BoardError(str(path), [Problem("this is broken", f"from line {line}, here")])
        for name in filter(None, (variant, at)):
            if f"<{name}>" not in text:
                raise SigsimError("there is nothing of this name", found=name)
        return cast("Board", text)

    def stamps(self, document: Document) -> dict[str, object]:
        """Return nothing: no text names a file."""
        return {}

    def answer_of(
        self, document: Document, board: Board, words: str, saved: bool
    ) -> dict[str, Any]:
        """Return what a test asks about."""
        answer = {
            "revision": document.revision, "board": board, "words": words,
            "unsaved": document.unsaved, "undo": document.undo_words,
            "redo": document.redo_words, "variant": document.variant, "at": document.at,
        }  # fmt: skip
        return answer | ({"saved": document.saved} if saved else {})

    def worth(self, document: Document, on: list[str], gone: Any) -> dict[str, Any]:
        """Return the names, a while after they were asked for, or never."""
        while "wait" in on and not gone():
            threading.Event().wait(0.005)
        return {"list": on}

    def parts(self, text: str, path: Path) -> list[dict[str, Any]]:
        """Return one part."""
        return [{"part": "buffer"}]

    def sheet(self, board: Board) -> str:
        """Return a page with a style of its own."""
        return "<!doctype html><style>p{color:red}</style><p>sheet"

    def new_board(self, answers: Mapping[str, Any]) -> str:
        """Return a text."""
        return "new\n"


class Editor:
    """An editor that runs in a thread of the test.

    Parameters
    ----------
    path : of the board
    desk : who knows of boards
    """

    def __init__(self, path: Path, desk: Desk | None = None) -> None:
        self.desk = desk or PlainDesk()
        self.session = Session(path, self.desk)
        self.place = bound()
        self.address = ""
        self.renewed: list[str] = []
        self.ended: Ended | None = None
        self._ready = threading.Event()
        self.thread = threading.Thread(target=self._run, daemon=True)

    def _run(self) -> None:
        hooks = Hooks(self._started, self.renewed.append)
        self.ended = run(self.session, self.desk, self.place, hooks)

    def _started(self, address: str) -> None:
        self.address = address
        self._ready.set()

    def start(self) -> str:
        """Return the place, once it is there."""
        self.thread.start()
        assert self._ready.wait(10)
        return self.address.partition("?")[0].rstrip("/")


@contextmanager
def browser(address: str) -> Iterator[httpx.Client]:
    """A client with the cookie of an editor, which behaves as a browser does."""
    place, _, token = address.partition("/?token=")
    with httpx.Client(base_url=place, headers={"origin": place}, timeout=10) as client:
        client.headers.pop("accept-encoding")
        assert client.get("/", params={"token": token}).status_code == 303
        yield client


def raw(port: int, text: bytes, more: Iterable[bytes] = ()) -> bytes:
    """Send bytes to a port and return the first that come back."""
    with socket.create_connection(("127.0.0.1", port), timeout=10) as line:
        try:
            line.sendall(text)
            for part in more:
                line.sendall(part)
        except OSError:
            pass  # it has heard enough
        try:
            return line.recv(65536)
        except OSError:
            return b""
