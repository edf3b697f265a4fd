"""What is wrong, as the page gets it."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any, Final

from sigsim.errors import BoardError, Problem, SigsimError, shown_path

# As the readers of a board file write them, at the one end of a place or at the other.
_FROM_LINE: Final = re.compile(r"from line (\d+), ")
_AT_LINE: Final = re.compile(r", line (\d+)")
_MOST: Final = 200


def faults_of(error: SigsimError, path: Path) -> list[dict[str, Any]]:
    """Return all that an error says.

    Parameters
    ----------
    error : any that a user can cause
    path : of the board file, whose line numbers are told
    """
    if isinstance(error, BoardError) and error.problems:
        return [_fault(problem, path) for problem in error.problems[:_MOST]]
    return [_fault(error.problem, path)]


def fault(what: str, **more: str) -> dict[str, Any]:
    """Return a fault in the words given."""
    return _fault(Problem(what, **more), Path())


def _fault(problem: Problem, path: Path) -> dict[str, Any]:
    found: dict[str, Any] = {"text": str(problem), "what": problem.what}
    for key in ("where", "found", "accepted", "nearest"):
        if value := getattr(problem, key):
            found[key] = value
    if line := _line(problem.where, path):
        found["line"] = line
    return found


def _line(where: str, path: Path) -> int:
    """Return the line of the file itself that a place names, 0 for none."""
    here = _FROM_LINE.match(where) or _AT_LINE.fullmatch(where.removeprefix(shown_path(path)))
    return int(here[1]) if here else 0
