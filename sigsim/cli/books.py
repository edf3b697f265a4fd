"""The files of one run: no output is an input or another output, and all appear or none."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final

from sigsim.cli import stopping
from sigsim.errors import OutputError, shown_path

EXISTS: Final = "this file exists; --force overwrites it"
_LONGEST_SUFFIX: Final = 16
_STREAMS: Final = ("standard input", "standard output", "standard error")


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


class Books:
    """What one run reads and writes."""

    def __init__(self) -> None:
        self._read: dict[tuple[int, int], str] = {}
        self._outputs: dict[str, Output] = {}

    def note_input(self, path: str) -> None:
        """Note a file that is read.

        Raises
        ------
        OutputError : it is to be written as well
        """
        found = identity(path)
        if found is None:
            return
        self._read[found] = path
        for output in self._outputs.values():
            if identity(output.target) == found:
                raise _is_input(output.where)

    def claim(self, path: str, force: bool, onto_input: bool) -> Output:
        """Note a file that will be written.

        Raises
        ------
        OutputError : it is an input, a stream or another output
        """
        output = Output(path, force)
        found = identity(path)
        if found is not None:
            if found in self._read and not onto_input:
                raise _is_input(output.where)
            for number, stream in enumerate(_STREAMS):
                if _is_stream(number, found):
                    raise OutputError(f"this file is already {stream}", where=output.where)
        for other in self._outputs.values():
            if other.target == output.target or (found and identity(other.target) == found):
                what = "two outputs of one command would be this one file"
                raise OutputError(what, where=output.where)
        return output

    def add(self, output: Output) -> None:
        """Note an output whose place has been checked."""
        self._outputs[output.target] = output

    def known(self, path: str) -> Output | None:
        """Return the output of this path that is not written yet, None for none."""
        output = self._outputs.get(os.path.realpath(path))
        return None if output is None or output.part else output

    def settle(self, *, whole: bool = False) -> None:
        """Put what is finished in its place, all or nothing; with `whole` only if all is.

        Raises
        ------
        OutputError : a file cannot be put in its place
        """
        finished = [output for output in self._outputs.values() if output.ready]
        if whole and len(finished) < len(self._outputs):
            return
        placed: list[Output] = []
        with stopping.shielded():
            try:
                for output in finished:
                    with told(output.where):
                        output.publish(undoable=len(finished) > 1)
                    placed.append(output)
            except OutputError:
                for output in reversed(placed):
                    output.take_back()
                raise
            finally:
                for output in finished:
                    output.clear()
                    del self._outputs[output.target]

    def drop(self) -> None:
        """Remove what is unfinished."""
        with stopping.shielded():
            for output in self._outputs.values():
                output.clear()


@contextmanager
def told(where: str) -> Iterator[None]:
    """Turn what the system says of a file into a message."""
    try:
        yield
    except OutputError:
        raise
    except OSError as error:
        raise OutputError(f"the file cannot be written: {reason(error)}", where=where) from None


def _is_input(where: str) -> OutputError:
    return OutputError("this is the input itself and stays as it is", where=where)


def _is_stream(number: int, found: tuple[int, int]) -> bool:
    try:
        stream = os.fstat(number)
    except OSError:
        return False
    return stat.S_ISREG(stream.st_mode) and (stream.st_dev, stream.st_ino) == found
