"""The board file on disk: as it was last seen, whether it is another by now, and saving."""

from __future__ import annotations

import codecs
import os
from pathlib import Path
from typing import Final, Literal, TypeAlias

from sigsim.board.source import MOST_BYTES, read_raw
from sigsim.errors import OutputError, SigsimError, shown_path
from sigsim.files import EXISTS, Output, check_place, told

State: TypeAlias = Literal["same", "changed", "gone"]

_KIND: Final = "a board file"


class ChangedError(SigsimError):
    """The file is another than the one that was read."""


class Disk:
    """The file.

    Parameters
    ----------
    path : of the board file, which need not be there yet

    Attributes
    ----------
    marked : whether it begins with a byte order mark
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.where = shown_path(path)
        self.marked = False
        self._seen: bytes | None = None
        self._stamp: object = None

    @property
    def target(self) -> Path:
        """The file itself, at the end of all links."""
        return Path(os.path.realpath(self.path))

    def read(self) -> str | None:
        """Read the file, and take it as seen.

        Returns
        -------
        its text without a byte order mark, with its own line ends; None where there is none

        Raises
        ------
        SigsimError : it cannot be read, or is no text
        """
        stamp = self._stamped()
        raw = self._raw()
        text = None if raw is None else self._text(raw)
        self._seen, self._stamp = raw, stamp
        self.marked = raw is not None and raw.startswith(codecs.BOM_UTF8)
        return text

    def state(self, *, certain: bool = True) -> State:
        """Tell whether the file is still what was last seen.

        Parameters
        ----------
        certain : whether to read it also where nothing shows that it was written
        """
        stamp = self._stamped()
        if not certain and stamp is not None and stamp == self._stamp:
            return "same"
        try:
            raw = self._raw()
        except SigsimError:
            return "changed"
        if raw == self._seen:
            self._stamp = stamp
            return "same"
        return "gone" if raw is None else "changed"

    def theirs(self) -> str | None:
        """Return the text that is there now, None for none; it is not taken as seen."""
        raw = self._raw()
        return None if raw is None else self._text(raw)

    def write(self, text: str, *, overwrite: bool) -> None:
        """Write the file whole or not at all.

        Parameters
        ----------
        text : without a byte order mark; it gets the one that the file had
        overwrite : whether a file that was changed outside may be lost

        Raises
        ------
        ChangedError : it was changed outside, and may not be lost
        OutputError : it cannot be written
        """
        state = self.state()
        if state == "changed" and not overwrite:
            raise self._changed()
        raw = (codecs.BOM_UTF8 if self.marked else b"") + text.encode()
        there = os.path.lexists(self.target)
        output = Output(os.fspath(self.path), force=there and (overwrite or state == "same"))
        try:
            with told(self.where):
                check_place(os.fspath(self.path), output)
                _whole(output.begin(), raw)
                output.publish(undoable=False)
        except OutputError as error:
            if error.problem.what == EXISTS:
                raise self._changed() from None
            raise
        finally:
            output.clear()
        self._seen, self._stamp = raw, self._stamped()

    def _changed(self) -> ChangedError:
        what = "this file has been changed by another program meanwhile"
        return ChangedError(what, where=self.where, accepted="keep mine, or take theirs")

    def _raw(self) -> bytes | None:
        """Return what is in the file, None where there is none."""
        try:
            os.stat(self.path)
        except (FileNotFoundError, NotADirectoryError):
            return None
        except (OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or str(error)
            raise SigsimError(f"the file cannot be read: {reason}", where=self.where) from None
        return read_raw(self.path)

    def _text(self, raw: bytes) -> str:
        try:
            return raw.removeprefix(codecs.BOM_UTF8).decode()
        except UnicodeDecodeError:
            what = f"this is not a text file; {_KIND} is TOML in UTF-8"
            raise SigsimError(what, where=self.where) from None

    def _stamped(self) -> object:
        """Return what changes with most changes of the file, None where there is none."""
        try:
            found = os.stat(self.path)
        except (OSError, ValueError):
            return None
        return found.st_mtime_ns, found.st_ctime_ns, found.st_size, found.st_ino


def refuse_unwritable(text: str) -> None:
    """Refuse a text that no board file can hold.

    Raises
    ------
    SigsimError : it has half characters, or is too long
    """
    try:
        size = len(text.encode())
    except UnicodeEncodeError:
        raise SigsimError("this is not text: it has letters that do not exist") from None
    if size > MOST_BYTES:
        what = f"the file would be larger than the {MOST_BYTES // 10**6} MB a board file may have"
        raise SigsimError(what)


def _whole(part: Path, raw: bytes) -> None:
    """Write a file and wait until the disk has it."""
    with open(part, "wb") as file:
        file.write(raw)
        file.flush()
        os.fsync(file.fileno())
