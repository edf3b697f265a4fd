"""The one family of errors a user can cause: what, where, found, accepted, nearest."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from typing import TYPE_CHECKING, Final

from sigsim.text import escaped, shown

if TYPE_CHECKING:
    from typing import Self

LONGEST_QUOTE = 60
# From here on a word is like another; tried on all keys and commands, below it guesses are far off.
LIKENESS: Final = 0.6
_MOST_READ: Final = 200
_MOST_LISTED: Final = 20
_DEEPEST: Final = 3


def quote(value: object) -> str:
    """Show a value found in a file as it stands there: one line, all of it seen, not too long."""
    text = _written(value)
    return text if len(text) <= LONGEST_QUOTE else text[: LONGEST_QUOTE - 1] + "…"


def _written(value: object, depth: int = 0) -> str:
    """Return a value as a file has it; what is deep inside it or far behind is left out."""
    if isinstance(value, str):
        return f'"{shown(value[:_MOST_READ])}"'
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict | list) and depth >= _DEEPEST:
        return "…"
    if isinstance(value, dict):
        pairs = (f"{shown(str(k))} = {_written(v, depth + 1)}" for k, v in value.items())
        return f"{{{', '.join(islice(pairs, _MOST_LISTED))}}}"
    if isinstance(value, list):
        return f"[{', '.join(_written(v, depth + 1) for v in value[:_MOST_LISTED])}]"
    return escaped(str(value))


def shown_path(path: object) -> str:
    """Return a path as a message names it: whole, on one line, all of it seen."""
    return shown(str(path))


def nearest(word: str, accepted: Iterable[str], likeness: float = LIKENESS) -> str | None:
    """Return the accepted word most like `word`, None if none has this likeness (0 to 1)."""
    from difflib import get_close_matches

    by_folded = {name.casefold(): name for name in accepted}
    found = get_close_matches(word[:_MOST_READ].casefold(), by_folded, n=1, cutoff=likeness)
    return by_folded[found[0]] if found else None


def nearest_name(name: str, accepted: Iterable[str]) -> str | None:
    """Return the nearest name: most like this one, or one that holds it as whole words."""
    names = tuple(accepted)
    words = re.escape(name[:_MOST_READ])
    holding = re.compile(rf"(?<!\w){words}(?!\w)", re.IGNORECASE) if name.strip() else None
    held = (other for other in names if holding is not None and holding.search(other))
    return nearest(name, names) or next(held, None)


@dataclass(frozen=True)
class Problem:
    """One thing that is wrong, in the words of the person who has to mend it.

    Attributes
    ----------
    what : the fault in a plain sentence without a full stop
    where : the place: a file, a key in it, an option
    found : the value that was found, quoted
    accepted : what would have been right
    nearest : the accepted word most like the one found
    """

    what: str
    where: str = ""
    found: str = ""
    accepted: str = ""
    nearest: str | None = None

    def __str__(self) -> str:
        text = f"{self.where}: {self.what}" if self.where else self.what
        if self.found:
            text += f" (found {self.found})"
        if self.nearest:
            text += f'; did you mean "{shown(self.nearest)}"?'
        if self.accepted:
            text += f"; accepted: {self.accepted}"
        return escaped(text)


class SigsimError(Exception):
    """Base of every error a user can cause; the command line ends with status 2."""

    exit_status = 2

    def __init__(
        self,
        what: str,
        *,
        where: str = "",
        found: str = "",
        accepted: str = "",
        nearest: str | None = None,
    ) -> None:
        self.problem = Problem(what, where, found, accepted, nearest)
        super().__init__(str(self.problem))

    def at(self, where: str) -> Self:
        """Return the error with the place where what is wrong was found."""
        self.problem = replace(self.problem, where=where)
        self.args = (str(self.problem),)
        return self


class QuantityError(SigsimError, ValueError):
    """A quantity that cannot be read, is of the wrong kind, or lies outside its range."""


class UnknownNameError(SigsimError, LookupError):
    """A stage, scene or part that does not exist."""

    def __init__(
        self, kind: str, name: str, accepted: Sequence[str], *, where: str = "", shown: int = 12
    ) -> None:
        listed = ", ".join(quote(a) for a in accepted[:shown])
        if len(accepted) > shown:
            listed += f" and {len(accepted) - shown} more"
        super().__init__(
            f"there is no {kind} of this name",
            where=where,
            found=quote(name),
            accepted=listed or f"(there is no {kind} at all)",
            nearest=nearest_name(name, accepted),
        )


class UnreachableError(SigsimError):
    """A limit asked for that nothing can keep; the command line ends with status 1."""

    exit_status = 1


class OutputError(SigsimError, OSError):
    """A file that cannot be written, or would be overwritten."""


class BoardError(SigsimError, ValueError):
    """All that is wrong with one board file, reported in one go."""

    def __init__(self, file: str, problems: Sequence[Problem]) -> None:
        self.file = file
        self.problems = tuple(problems)
        listed = [f"  {problem}" for problem in self.problems[:40]]
        if len(self.problems) > len(listed):
            listed.append(f"  … and {len(self.problems) - len(listed)} more")
        count = "1 problem" if len(self.problems) == 1 else f"{len(self.problems)} problems"
        Exception.__init__(self, f"{escaped(file)}: {count}\n" + "\n".join(listed))
        self.problem = Problem(str(self))
