"""The one family of errors a user can cause: what, where, found, accepted, nearest."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from typing import Self

LONGEST_QUOTE = 60


def quote(value: object) -> str:
    """Show a value found in a file: one line, no control characters, not too long."""
    text = f'"{value}"' if isinstance(value, str) else str(value)
    text = "".join(c if c.isprintable() else "?" for c in text)
    return text if len(text) <= LONGEST_QUOTE else text[: LONGEST_QUOTE - 1] + "…"


def shown_path(path: object) -> str:
    """Return a path as a message names it: whole, on one line."""
    return "".join(c if c.isprintable() else "?" for c in str(path))


def nearest(word: str, accepted: Iterable[str], likeness: float = 0.5) -> str | None:
    """Return the accepted word most like `word`, None if none has this likeness (0 to 1)."""
    from difflib import get_close_matches

    by_folded = {name.casefold(): name for name in accepted}
    folded = word[:200].casefold()
    found = get_close_matches(folded, by_folded, n=1, cutoff=likeness)
    found += [name for name in by_folded if len(folded) > 2 and folded in name]
    return by_folded[found[0]] if found else None


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
            text += f'; did you mean "{self.nearest}"?'
        if self.accepted:
            text += f"; accepted: {self.accepted}"
        return text


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
            nearest=nearest(name, accepted),
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
        shown = [f"  {problem}" for problem in self.problems[:40]]
        if len(self.problems) > len(shown):
            shown.append(f"  … and {len(self.problems) - len(shown)} more")
        count = "1 problem" if len(self.problems) == 1 else f"{len(self.problems)} problems"
        Exception.__init__(self, f"{file}: {count}\n" + "\n".join(shown))
        self.problem = Problem(str(self))
