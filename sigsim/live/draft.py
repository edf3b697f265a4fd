"""Unsaved work beside the file, and the lock by which two editors know of each other."""

from __future__ import annotations

import os
import tempfile
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import IO

from sigsim import stopping
from sigsim.board.source import read_raw
from sigsim.errors import SigsimError, shown_path

try:
    import fcntl
except ImportError:  # a system whose files cannot be locked in this way
    fcntl = None  # type: ignore[assignment]


class Draft:
    """The text that is not saved yet, in a file of its own: `.NAME.draft`.

    Parameters
    ----------
    target : the board file itself, at the end of all links
    """

    def __init__(self, target: Path) -> None:
        self.path = target.with_name(f".{target.name}.draft")
        self._written: str | None = None

    def found(self) -> tuple[str, str] | None:
        """Return the text of last time and when it was written; None for none."""
        try:
            text = read_raw(self.path, "unsaved work").decode()
            when = datetime.fromtimestamp(self.path.stat().st_mtime)
        except (SigsimError, OSError, ValueError):
            return None
        return text, f"{when:%Y-%m-%d %H:%M}"

    def write(self, text: str) -> str:
        """Write it whole or not at all, for the eyes of its owner only.

        Returns
        -------
        why it cannot be written; empty when it is
        """
        if text == self._written:
            return ""
        part = ""
        try:
            handle, part = tempfile.mkstemp(prefix=".sigsim-", dir=self.path.parent)
            stopping.keep(part)
            with open(handle, "wb") as file:
                file.write(text.encode())
            os.replace(part, self.path)
        except (OSError, ValueError) as error:
            with suppress(OSError):
                os.unlink(part)
            reason = getattr(error, "strerror", None) or str(error)
            return f"unsaved work cannot be kept in {shown_path(self.path.name)}: {reason}"
        finally:
            stopping.forget(part)
        self._written = text
        return ""

    def remove(self) -> None:
        """Remove it."""
        self._written = None
        with suppress(OSError, ValueError):
            os.unlink(self.path)


class Lock:
    """Held while a board file is edited: `.NAME.lock`, with the address of its page in it.

    Parameters
    ----------
    target : the board file itself, at the end of all links
    """

    def __init__(self, target: Path) -> None:
        self.path = target.with_name(f".{target.name}.lock")
        self._file: IO[str] | None = None

    def take(self) -> bool:
        """Take the lock; also true where none can be made, as in a folder for reading only."""
        if fcntl is None:
            return True
        while True:
            try:
                handle = os.open(self.path, os.O_RDWR | os.O_CREAT | _no_link(), 0o600)
            except (OSError, ValueError):
                return True
            file = open(handle, "r+", encoding="utf-8", errors="replace")  # noqa: SIM115  held
            try:
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                file.close()
                return False
            except OSError:  # a file system without locks
                file.close()
                return True
            if self._is_there(handle):
                self._file = file
                stopping.keep(os.fspath(self.path))
                return True
            file.close()  # whoever held it has just removed it

    def say(self, address: str) -> None:
        """Write into it where the page is."""
        if self._file is not None:
            with suppress(OSError):
                self._file.truncate(0)
                self._file.write(address)
                self._file.flush()

    def holder(self) -> str:
        """Return the address of the page of whoever holds it, empty if it is not known."""
        try:
            said = self.path.read_text(encoding="utf-8", errors="replace")[:100]
        except (OSError, ValueError):
            return ""
        return said if said.startswith("http://127.0.0.1:") else ""

    def release(self) -> None:
        """Give it back."""
        if self._file is not None:
            with suppress(OSError):
                os.unlink(self.path)
            stopping.forget(os.fspath(self.path))
            self._file.close()
            self._file = None

    def _is_there(self, handle: int) -> bool:
        try:
            return os.path.samestat(os.fstat(handle), os.stat(self.path))
        except OSError:
            return False


def _no_link() -> int:
    return getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_CLOEXEC", 0)
