"""A session: one document, its file, its draft; every answer is of one moment."""

from __future__ import annotations

import threading
from collections.abc import Mapping
from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal

from sigsim.errors import SigsimError, quote
from sigsim.live.beside import Beside, Told
from sigsim.live.differences import changed_lines, difference
from sigsim.live.disk import ChangedError, refuse_unwritable
from sigsim.live.document import Document
from sigsim.live.faults import TextError, faults_of
from sigsim.live.line_ends import with_ends_of

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.live.desk import Desk

_LONGEST_JOIN: Final = 200


class StaleError(SigsimError):
    """What was asked is about a document that has changed since."""


class Session:
    """The document that all windows share.

    Parameters
    ----------
    path : of the board file, which need not be there yet
    desk : who knows of boards
    told : is called with each event that windows hear of

    Raises
    ------
    SigsimError : the file is there and cannot be read
    """

    def __init__(self, path: Path, desk: Desk, told: Told = lambda _: None) -> None:
        self.path, self._desk, self.told = path, desk, told
        self.beside = Beside(path)
        self._lock = threading.RLock()
        text = self.beside.text
        self._document = None if text is None else Document(path, text, text)

    @property
    def revision(self) -> int:
        """Of the document, 0 where there is none yet."""
        return self._document.revision if self._document else 0

    @property
    def unsaved(self) -> bool:
        """Whether there is work that is not saved."""
        return self._document is not None and self._document.unsaved

    def greeting(self) -> dict[str, Any]:
        """Return what a window hears first: whatever it has missed."""
        return {"revision": self.revision, **self.beside.said()}

    def look(self, revision: object = None) -> Document:
        """Return the document as it is now, for a question.

        Raises
        ------
        SigsimError : there is none yet, or it is another than that of the revision
        """
        with self._lock:
            return self._open(revision).copied()

    def now(self) -> dict[str, Any]:
        """Return all that a window begins with."""
        with self._lock:
            if self._document is None:
                return {"start": {"file": self.path.name}, **self.beside.said()}
            return self._answer(self._document, "", saved=True)

    def edit(self, edit: Mapping[str, Any], revision: object, *, keep: bool) -> dict[str, Any]:
        """Make an edit.

        Parameters
        ----------
        edit : as the page sends it
        revision : of the document that it is meant for
        keep : whether it becomes a step

        Raises
        ------
        SigsimError : it cannot be made; nothing has changed then
        """
        with self._lock:
            document = self._open(revision)
            if self.beside.offer is not None:
                raise SigsimError(
                    f"unsaved work of {self.beside.offer[1]} waits",
                    accepted="take it up or leave it",
                )
            made = document.copied()
            words = self._made(made, edit)
            answer = self._answer(made, words, saved=made.shown != document.shown, refusing=True)
            if not keep:
                return answer | {"revision": document.revision}
            self._hold(made)
            return answer

    def step(self, what: Literal["undo", "redo"], revision: object = None) -> dict[str, Any]:
        """Go a step back, or forth again."""
        with self._lock:
            document = self._open(revision)
            made = document.copied()
            words = made.undo() if what == "undo" else made.redo()
            self._settle(made)
            self._hold(made)
            return self._answer(made, words, saved=made.shown != document.shown)

    def save(self, *, overwrite: bool) -> dict[str, Any]:
        """Save the document.

        Raises
        ------
        ChangedError : the file was changed outside, and may not be overwritten
        OutputError : it cannot be written
        """
        with self._lock:
            made = self._open(None).copied()
            try:
                self.beside.disk.write(made.text, overwrite=overwrite)
            except ChangedError:
                self.beside.note("changed", self.told)
                raise
            made.was_saved(made.text)
            self.beside.leave()
            self.beside.note("same", self.told)
            self._hold(made)
            return self._answer(made, "", saved=True)

    def take_theirs(self) -> dict[str, Any]:
        """Take the file as it is now on disk: a step of the document.

        Raises
        ------
        SigsimError : there is none any more, or it is no board
        """
        with self._lock:
            made, text = self._open(None).copied(), self.beside.disk.theirs()
            if text is None:
                raise SigsimError("the file is not there any more", where=self.beside.disk.where)
            self._desk.board_of(text, self.path, "", "")
            words = "taking the file from disk"
            made.do(text, words)
            made.was_saved(text)
            self.beside.disk.read()
            self.beside.note("same", self.told)
            self._settle(made)
            self._hold(made)
            return self._answer(made, words, saved=True)

    def take_up(self, choice: Literal["take", "drop"]) -> dict[str, Any]:
        """Take up unsaved work of last time, or leave it for good."""
        with self._lock:
            offer, words = self.beside.offer, ""
            if offer is not None and choice == "take":
                words = f"unsaved work of {offer[1]}"
                self._desk.board_of(offer[0], self.path, "", "")
                self._begin(offer[0], words)
            self.beside.offer = None
            if choice == "drop":
                self.beside.draft.remove()
            self.told({"revision": self.revision})
            return self.now() | {"words": words}

    def create(self, text: str) -> dict[str, Any]:
        """Begin with a new board, which stands in no file yet.

        Raises
        ------
        SigsimError : there is a board already
        """
        with self._lock:
            if self._document is not None:
                raise SigsimError("there is a board already", where=self.path.name)
            self._begin(text, "")
            self.told({"revision": self.revision})
            return self.now()

    def text(self) -> dict[str, Any]:
        """Return the text, and which of its lines are not as they are saved."""
        document = self.look()
        saved = document.saved or ""
        changed = changed_lines(saved, document.text)
        return {"text": document.text, "saved": saved, "changed": changed}

    def difference(self) -> list[dict[str, str]]:
        """Return the lines of the file on disk beside those of the document."""
        document = self.look()
        return difference(self.beside.disk.theirs() or "", document.text)

    def tick(self, *, watch: bool) -> None:
        """Keep unsaved work, and look whether the file was changed outside.

        Parameters
        ----------
        watch : whether to look at the file too
        """
        with self._lock:
            if self._document is not None:
                self.beside.keep(self._document, self.told)
                if watch:
                    self.beside.watch(self._document, self.told)
                    if self.beside.others_changed(self._desk.stamps(self._document)):
                        self._document.reread()
                        self.told({"revision": self.revision})

    def discard(self) -> None:
        """Leave unsaved work for good."""
        with self._lock:
            self.beside.leave()
            self._document = None

    def _open(self, revision: object) -> Document:
        if self._document is None:
            raise SigsimError("there is no board yet", accepted="the questions for a new one")
        if revision is not None and revision != self._document.revision:
            raise StaleError("the board has been changed meanwhile, in another window perhaps")
        return self._document

    def _begin(self, text: str, words: str) -> None:
        if self._document is None:
            self._document = Document(self.path, text, None)
        elif self._reads(self._document):
            self._document.do(text, words)
            self._settle(self._document)
        else:
            self._document.mend(text)

    def _hold(self, document: Document) -> None:
        self._document = document
        self.told({"revision": document.revision})

    def _made(self, document: Document, edit: Mapping[str, Any]) -> str:
        """Make an edit to a document and return what it did."""
        if edit.get("do") in ("variant", "at"):
            return self._shown(document, str(edit["do"]), edit.get("name", ""))
        before = document.text
        text = edit.get("text")
        if edit.get("do") == "text" and isinstance(text, str):
            edit = {**edit, "text": with_ends_of(before, text)}
        try:
            edited = self._desk.edited(before, edit, self.path, document.variant)
        except SigsimError as error:
            if not isinstance(edit.get("text"), str):
                raise
            raise TextError(error, edit["text"]) from error
        refuse_unwritable(edited.text)
        if self._reads(document):
            join = edit.get("join", "")
            keep = isinstance(join, str) and len(join) <= _LONGEST_JOIN
            document.do(edited.text, edited.words, join if keep else "")
        else:
            document.mend(edited.text)
        self._settle(document)
        return edited.words

    def _shown(self, document: Document, what: str, name: object) -> str:
        if not isinstance(name, str):
            raise SigsimError("a name in quotes is wanted", where=what, found=quote(name))
        if what == "variant":
            self._desk.board_of(document.text, self.path, name, "")
            document.show(variant=name)
            self._settle(document)
        else:
            self._desk.board_of(document.text, self.path, document.variant, name)
            document.show(at=name)
        return ""

    def _settle(self, document: Document) -> None:
        """Show what is written where the variant or the end that was shown is gone."""
        for variant, at in product(dict.fromkeys((document.variant, "")), (document.at, "")):
            try:
                self._desk.board_of(document.text, self.path, variant, at)
            except SigsimError:
                continue
            document.variant, document.at = variant, at
            return

    def _board(self, document: Document) -> Board:
        return self._desk.board_of(document.text, self.path, document.variant, document.at)

    def _reads(self, document: Document) -> bool:
        try:
            self._board(document)
        except SigsimError:
            return False
        return True

    def _answer(
        self, document: Document, words: str, *, saved: bool = False, refusing: bool = False
    ) -> dict[str, Any]:
        """Return what the page is told, also of a text that cannot be read unless `refusing`."""
        try:
            board = self._board(document)
        except SigsimError as error:
            if refusing:
                raise
            broken = {
                "text": document.text,
                "faults": faults_of(error, self.path, document.text),
                "file": document.file,
                "revision": document.revision,
            }
            return {"broken": broken, **self.beside.said()}
        return self._desk.answer_of(document, board, words, saved) | self.beside.said()
