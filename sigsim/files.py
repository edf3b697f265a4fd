"""A file that takes its place whole or not at all."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final

from sigsim import stopping
from sigsim.errors import OutputError, shown_path

EXISTS: Final = "this file exists; --force overwrites it"
_LONGEST_SUFFIX: Final = 16


def reason(error: Exception) -> str:
    """Return what the system says of a file."""
    return getattr(error, "strerror", None) or str(error)


def identity(path: str) -> tuple[int, int] | None:
    """Return what makes a file itself, whatever its names are; None if it is not there."""
    try:
        found = os.stat(path)
    except (OSError, ValueError):
        return None
    return found.st_dev, found.st_ino


class Output:
    """One file to be written.

    Parameters
    ----------
    path : as it was given
    force : whether an existing file may be overwritten

    Attributes
    ----------
    target : the file itself, at the end of all links
    part : the temporary file beside it, empty for none yet
    ready : whether this holds all that is to be in the file
    """

    def __init__(self, path: str, force: bool) -> None:
        self.where, self.force = shown_path(path), force
        self.target = os.path.realpath(path)
        self.part = ""
        self.ready = False
        self._spare = ""
        self._fresh = False

    def begin(self) -> Path:
        """Make the temporary file."""
        self.part = self._beside()
        return Path(self.part)

    def _beside(self) -> str:
        """Return a new empty file in the same folder."""
        import tempfile

        suffix = os.path.splitext(self.target)[1]
        suffix = suffix if len(suffix) <= _LONGEST_SUFFIX else ""
        with stopping.shielded():
            folder = os.path.dirname(self.target)
            handle, name = tempfile.mkstemp(prefix=".sigsim-", suffix=suffix, dir=folder)
            stopping.keep(name)
            os.close(handle)
        return name

    def publish(self, *, undoable: bool) -> None:
        """Move the finished file into place; one that came to be meanwhile is not overwritten."""
        self._fresh = not os.path.lexists(self.target)
        self._take_mode()
        if self.force:
            if undoable and not self._fresh:
                self._set_aside()
            os.replace(self.part, self.target)
            return
        try:
            os.link(self.part, self.target)
        except OSError as error:  # also a file system without hard links
            if isinstance(error, FileExistsError) or os.path.lexists(self.target):
                raise OutputError(EXISTS, where=self.where) from None
            os.rename(self.part, self.target)

    def _set_aside(self) -> None:
        """Give what is about to be replaced a second name, so that it can come back."""
        spare = self._beside()
        os.unlink(spare)
        try:
            os.link(self.target, spare)
            self._spare = spare
        except OSError:  # a file system without hard links: what is replaced stays replaced
            stopping.forget(spare)

    def _take_mode(self) -> None:
        """Give the new file the mode and the owner of the old one, or those of any new file."""
        try:
            old = os.stat(self.target)
        except FileNotFoundError:
            umask = os.umask(0)
            os.umask(umask)
            os.chmod(self.part, 0o666 & ~umask)
            return
        if hasattr(os, "chown"):
            with suppress(OSError):
                os.chown(self.part, old.st_uid, old.st_gid)
        os.chmod(self.part, stat.S_IMODE(old.st_mode))

    def take_back(self) -> None:
        """Undo what `publish` did."""
        with suppress(OSError):
            if self._spare:
                os.replace(self._spare, self.target)
            elif self._fresh:
                os.unlink(self.target)

    def clear(self) -> None:
        """Remove what is temporary."""
        for name in filter(None, (self.part, self._spare)):
            with suppress(OSError):
                os.unlink(name)
            stopping.forget(name)
        self.part = self._spare = ""


def check_place(path: str, output: Output) -> None:
    """See whether a file can be put where an output goes.

    Parameters
    ----------
    path, output : its name as it was given, and what is to be written there

    Raises
    ------
    OutputError : it cannot
    """
    where, folder = output.where, os.path.dirname(output.target)
    try:
        mode = os.stat(path).st_mode
    except (FileNotFoundError, NotADirectoryError):
        mode = 0
    if stat.S_ISDIR(mode):
        raise OutputError("this is a folder; a file name is wanted", where=where)
    if mode and not stat.S_ISREG(mode):
        raise OutputError("this is no ordinary file and is left alone", where=where)
    if mode and not output.force:
        raise OutputError(EXISTS, where=where)
    if not os.path.isdir(folder):
        raise OutputError("there is no such folder to write into", where=where)
    if mode and not os.access(output.target, os.W_OK):
        raise OutputError("the file cannot be written: it is for reading only", where=where)
    if not os.access(folder, os.W_OK | os.X_OK):
        raise OutputError("the file cannot be written: its folder is closed", where=where)


@contextmanager
def told(where: str) -> Iterator[None]:
    """Turn what the system says of a file into a message."""
    try:
        yield
    except OutputError:
        raise
    except OSError as error:
        raise OutputError(f"the file cannot be written: {reason(error)}", where=where) from None
