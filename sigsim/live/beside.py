"""What stands beside a document: the file on disk, and work that is not saved in it yet."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sigsim.live.disk import Disk, State
from sigsim.live.draft import Draft

if TYPE_CHECKING:
    from sigsim.live.document import Document

Told = Callable[[dict[str, Any]], None]


class Beside:
    """The file and the draft of one document.

    Parameters
    ----------
    path : of the board file, which need not be there yet

    Attributes
    ----------
    text : of the file when it was opened, None where there was none
    offer : unsaved work of last time and when it was written, until it is taken up or left
    unkept : why unsaved work cannot be kept beside the file; empty where it is

    Raises
    ------
    SigsimError : the file is there and cannot be read
    """

    def __init__(self, path: Path) -> None:
        self.disk = Disk(path)
        self.draft = Draft(self.disk.target)
        self.text = self.disk.read()
        self.unkept = ""
        self._state: State = "same"
        self._kept = 0
        self._stamps: dict[str, object] = {}
        self.offer = self.draft.found()
        if self.offer and self.offer[0] == self.text:
            self.offer = None
            self.draft.remove()

    def said(self) -> dict[str, Any]:
        """Return what a page is told of it."""
        offer = self.offer and {"when": self.offer[1]}
        return {"disk": self._state, "draft": self.unkept, "offer": offer}

    def keep(self, document: Document, told: Told) -> None:
        """Bring the draft up to the document."""
        if self.offer is not None or self._kept == document.revision:
            return
        unkept = ""
        if document.unsaved:
            unkept = self.draft.write(document.text)
        else:
            self.draft.remove()
        # What failed is tried again, but said once.
        self._kept = 0 if unkept else document.revision
        if unkept != self.unkept:
            self.unkept = unkept
            told({"draft": unkept})

    def watch(self, document: Document, told: Told) -> None:
        """Look whether the file was changed outside, if there is one."""
        if document.saved is None:
            return
        self.note(self.disk.state(certain=False), told)

    def others_changed(self, stamps: dict[str, object]) -> bool:
        """Return whether one of the files that the board names was changed since the last look.

        Parameters
        ----------
        stamps : what is known of each now; nothing where the text is no board
        """
        before, self._stamps = self._stamps, stamps
        return stamps != before and stamps.keys() == before.keys()

    def note(self, state: State, told: Told) -> None:
        """Note what became of the file since it was read or written last."""
        if state != self._state:
            self._state = state
            told({"disk": state})

    def leave(self) -> None:
        """Remove the draft, unless it is still offered."""
        if self.offer is None:
            self.draft.remove()
