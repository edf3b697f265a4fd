"""The document: the text of a board file, and the steps that led to it, both ways without end."""

from __future__ import annotations

import copy
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from sigsim.live.patch import Patch, patch_of

ARROW: Final = " → "


@dataclass(frozen=True)
class Step:
    """One step.

    Attributes
    ----------
    patch : from the text before it to the text after it
    words : what it did, in plain language
    variant : that was shown when it was done
    join : steps of the same thing have the same word here; empty for a step of its own
    """

    patch: Patch
    words: str
    variant: str
    join: str = ""


class Document:
    """A board file as it is edited.

    Parameters
    ----------
    path : of the file
    text : of the file, without a byte order mark, with its own line ends
    saved : the text on disk, None where there is no file yet

    Attributes
    ----------
    variant, at : which variant is shown, and at which end one listens; empty as written
    revision : a number that grows with each change
    """

    def __init__(self, path: Path, text: str, saved: str | None) -> None:
        self.path = path
        self.text = text
        self.saved = saved
        self.variant = self.at = ""
        self.revision = 1
        self._done: list[Step] = []
        self._undone: list[Step] = []

    @property
    def file(self) -> str:
        """Name of the file."""
        return self.path.name

    @property
    def shown(self) -> tuple[str, str]:
        """The variant that is shown, and the end at which one listens."""
        return self.variant, self.at

    @property
    def unsaved(self) -> bool:
        """Whether the text is another than that on disk."""
        return self.text != self.saved

    @property
    def undo_words(self) -> str | None:
        """What `undo` would take back; None for nothing."""
        return self._done[-1].words if self._done else None

    @property
    def redo_words(self) -> str | None:
        """What `redo` would do again; None for nothing."""
        return self._undone[-1].words if self._undone else None

    def reread(self) -> None:
        """Be another document for whoever has seen it: a file that it names has changed."""
        self.revision += 1

    def copied(self) -> Document:
        """Return the same document, whose steps are no steps of this one."""
        other = copy.copy(self)
        other._done, other._undone = self._done.copy(), self._undone.copy()
        return other

    def do(self, text: str, words: str, join: str = "") -> None:
        """Take a step to another text.

        Parameters
        ----------
        text : that is reached
        words : what was done
        join : steps that follow each other with the same word here are one step
        """
        self.revision += 1
        self._undone.clear()
        last = self._done[-1] if self._done else None
        if last is not None and join and last.join == join:
            self._done.pop()
            words = joined(last.words, words)
            before = last.patch.back(self.text)
        else:
            before = self.text
        self.text = text
        if text != before:
            self._done.append(Step(patch_of(before, text), words, self.variant, join))

    def undo(self) -> str:
        """Take the last step back and return its words; empty where there is none."""
        if not self._done:
            return ""
        step = self._done.pop()
        self._undone.append(replace(step, join=""))
        return self._gone(step, step.patch.back(self.text))

    def redo(self) -> str:
        """Do again what was taken back and return its words; empty where there is nothing."""
        if not self._undone:
            return ""
        step = self._undone.pop()
        self._done.append(step)
        return self._gone(step, step.patch.forth(self.text))

    def _gone(self, step: Step, text: str) -> str:
        self._part()
        self.text, self.variant = text, step.variant
        self.revision += 1
        return step.words

    def _part(self) -> None:
        """Let no later step be joined to the last one."""
        if self._done:
            self._done[-1] = replace(self._done[-1], join="")

    def was_saved(self, text: str) -> None:
        """Note what is on disk now."""
        self._part()
        self.saved = text
        self.revision += 1

    def show(self, *, variant: str | None = None, at: str | None = None) -> None:
        """Show another variant, or listen at another end: no step of the file."""
        self._part()
        self.variant = self.variant if variant is None else variant
        self.at = self.at if at is None else at
        self.revision += 1

    def mend(self, text: str) -> None:
        """Begin again from a text that can be read, where that of the file cannot be."""
        self._done.clear()
        self._undone.clear()
        self.text = text
        self.revision += 1


def joined(first: str, last: str) -> str:
    """Return the words of two steps that are one: `a → b` and `b → c` are `a → c`."""
    if ARROW in first and ARROW in last:
        return first.rsplit(ARROW, 1)[0] + ARROW + last.rsplit(ARROW, 1)[1]
    return last
