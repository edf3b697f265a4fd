"""Names that no two things of a board may have, nor those of boards inside it."""

from __future__ import annotations

from sigsim.board.letters import Names, name_problem
from sigsim.board.tables import LONGEST_NAME
from sigsim.errors import Problem, quote, shown_path
from sigsim.text import looks

_CURE = 'a name of its own, or prefix = "…" in the loop that has a board'


class Claims:
    """The names of one board with all boards inside it.

    Attributes
    ----------
    file : whose names are read now
    boards : the first loop that has a board, by its file and what is put before its names
    """

    def __init__(self, file: str = "") -> None:
        self.file = file
        self.boards: dict[tuple[str, str], str] = {}
        self._names = Names()
        self._files: dict[str, str] = {}

    def claimed(self, name: str, own: str, place: str) -> Problem | None:
        """Keep a name; return the problem if it can be none or there is one that looks like it.

        Parameters
        ----------
        name : with all that boards around it put before
        own : as its file has it
        place : what messages call it there
        """
        if name != own and not name_problem(own, place):
            if len(name) > LONGEST_NAME:
                return Problem(
                    f"with its prefix, a name has at most {LONGEST_NAME} characters", place
                )
            if problem := name_problem(name, place):
                return problem
        problem = self._names.claimed(name, place)
        other = self._files.setdefault(looks(name), self.file)
        if problem is None or other == self.file:
            return problem
        files = f"{shown_path(other)} and {shown_path(self.file)}"
        what = problem.what.replace("is used twice", f"is used twice, in {files}")
        if what == problem.what:
            what = f"{what}; they stand in {files}"
        return Problem(what, place, quote(name), _CURE)
