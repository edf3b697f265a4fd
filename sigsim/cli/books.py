"""The files of one run: no output is an input or another output, and all appear or none."""

from __future__ import annotations

import os
import stat
from typing import Final

from sigsim import stopping
from sigsim.errors import OutputError
from sigsim.files import Output, identity, told

_STREAMS: Final = ("standard input", "standard output", "standard error")


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


def _is_input(where: str) -> OutputError:
    return OutputError("this is the input itself and stays as it is", where=where)


def _is_stream(number: int, found: tuple[int, int]) -> bool:
    try:
        stream = os.fstat(number)
    except OSError:
        return False
    return stat.S_ISREG(stream.st_mode) and (stream.st_dev, stream.st_ino) == found
