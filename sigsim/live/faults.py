"""What is wrong, as the page gets it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

from sigsim.errors import BoardError, Problem, SigsimError, shown_path

# As the readers of a board file write them, at the one end of a place or at the other.
_FROM_LINE: Final = re.compile(r"from line (\d+), ")
_AT_LINE: Final = re.compile(r", line (\d+)")
_UNKNOWN: Final = re.compile(r'there is no (key|section) "(.+)"')
_QUOTED: Final = re.compile(r'"(.+)"')
_MOST: Final = 200


class TextError(SigsimError):
    """What is wrong with a text that was to replace the file's.

    Parameters
    ----------
    error : what a reader says of it
    text : that was read
    """

    def __init__(self, error: SigsimError, text: str) -> None:
        super().__init__(str(error))
        self.error, self.text = error, text


def faults_of(error: SigsimError, path: Path, text: str = "") -> list[dict[str, Any]]:
    """Return all that an error says.

    Parameters
    ----------
    error : any that a user can cause
    path : of the board file, whose line numbers are told
    text : that was read, so that a line is found more closely than by its table
    """
    if isinstance(error, TextError):
        return faults_of(error.error, path, error.text)
    problems = error.problems if isinstance(error, BoardError) else ()
    lines = text.split("\n")
    return [_fault(problem, path, lines) for problem in (problems or (error.problem,))[:_MOST]]


def _fault(problem: Problem, path: Path, lines: Sequence[str]) -> dict[str, Any]:
    found: dict[str, Any] = {"text": str(problem), "what": problem.what}
    for key in ("where", "found", "accepted", "nearest"):
        if value := getattr(problem, key):
            found[key] = value
    if line := _line(problem, path, lines):
        found["line"] = line
    return found


def _line(problem: Problem, path: Path, lines: Sequence[str]) -> int:
    """Return the line of the file itself that a problem is about, from 1; 0 for none."""
    unknown = _UNKNOWN.match(problem.what)
    if exact := _AT_LINE.fullmatch(problem.where.removeprefix(shown_path(path))):
        return int(exact[1])
    if table := _FROM_LINE.match(problem.where):
        header, said = int(table[1]), problem.where.rpartition(", ")[2]
        keys = (unknown[2],) if unknown else (said, *_QUOTED.findall(said))
        return next(filter(None, (_key_line(lines, header, key) for key in keys)), header)
    if unknown and not problem.where:
        return _key_line(lines, 0, unknown[2]) or _section_line(lines, unknown[2])
    return 0


def _key_line(lines: Sequence[str], after: int, key: str) -> int:
    """Return the line of a key between a header and the next one."""
    for number, line in enumerate(lines[after:], start=after + 1):
        bare = line.lstrip()
        if bare.startswith("["):
            return 0
        name, given, _ = bare.partition("=")
        if given and name.strip().strip("\"'") == key:
            return number
    return 0


def _section_line(lines: Sequence[str], name: str) -> int:
    """Return the first line whose brackets have a name, alone or with others behind it."""
    for number, line in enumerate(lines, start=1):
        inside = line.strip().lstrip("[").partition("]")[0]
        if line.lstrip().startswith("[") and inside.partition(".")[0].strip(" \"'") == name:
            return number
    return 0
