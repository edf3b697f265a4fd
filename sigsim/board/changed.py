"""Tables of a board file that were changed before they were read, and whose fault what is.

A reader knows a table by its place in the file. What is wrong with a value that a variant or an
option gave belongs to these, so that each changed table knows where its values came from.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

from sigsim.board.included import Included
from sigsim.errors import Problem, quote

if TYPE_CHECKING:
    from sigsim.board.model import Board

NAMING: Final = ("stage", "loop", "split", "tap")
_PICKUP_PLACE: Final = "[[instrument.pickups]]"


@dataclass(frozen=True)
class Origin:
    """Where a value came from that the file itself does not have there.

    Attributes
    ----------
    step : the number of the change, from 1
    where : what messages call the place
    complete : whether it says all, so that no key is put behind it
    """

    step: int
    where: str
    complete: bool = False

    def at(self, key: object) -> Origin:
        """Return the origin of one value in what came from here."""
        return self if self.complete else replace(self, where=f"{self.where}, {key}")


class Table(dict[str, Any]):
    """A table whose values may have been changed.

    Attributes
    ----------
    origins : by key, where its value came from; without one it is the file's
    latest : the last change that was made to it, None for none
    """

    def __init__(self, values: Mapping[str, Any] | None = None) -> None:
        super().__init__(values or {})
        self.origins: dict[str, Origin] = {}
        self.latest: Origin | None = None

    def give(self, key: str, value: Any, origin: Origin) -> None:
        """Put a value in, which came from somewhere else."""
        self[key] = copied(value, origin)
        self.origins[key] = origin

    def step(self, key: str) -> int:
        """Return the number of the change that gave a value, 0 for the file itself."""
        return self.origins[key].step if key in self.origins else 0


def copied(value: Any, origin: Origin | None = None) -> Any:
    """Return a deep copy of plain data in which every table can be changed.

    Parameters
    ----------
    value : as a parser of TOML makes it, with boards inside
    origin : where it came from, None for the file itself
    """
    if isinstance(value, dict):
        made = Table()
        made.latest = origin
        for key, entry in value.items():
            of = None if origin is None else origin.at(key)
            made[key] = copied(entry, of)
            if of is not None:
                made.origins[key] = of
        return made
    if isinstance(value, list):
        return [
            copied(entry, None if origin is None else origin.at(f"item {number}"))
            for number, entry in enumerate(value, 1)
        ]
    if isinstance(value, Included):
        return replace(value, data=copied(value.data))
    return value


class Attributed(Problem):
    """A problem whose place is where a change stands."""


class Places:
    """The changed tables of one reading, by what messages call their place."""

    def __init__(self) -> None:
        self._tables: dict[str, Table] = {}

    def note(self, place: str, value: object) -> None:
        """Keep a table if it was changed."""
        if isinstance(value, Table) and value.latest is not None:
            self._tables[place] = value

    def forgives(self, place: str, key: str) -> bool:
        """Whether a key without effect was put out of effect by a later change.

        Parameters
        ----------
        place : of the table it stands in
        key : of a value that the table itself gives
        """
        found = self._at(place)[1]
        # How pickups are joined stands in the instrument's table and decides about theirs.
        whole = self._tables.get("[instrument]") if place.startswith(_PICKUP_PLACE) else None
        steps = [t.latest.step for t in (found, whole) if t is not None and t.latest is not None]
        return bool(steps) and (0 if found is None else found.step(key)) < max(steps)

    def without_other_kinds(
        self, place: str, values: Mapping[str, Any], accepted: Iterable[str]
    ) -> tuple[dict[str, Any], list[str]]:
        """Return values without those that a change of kind or type put out of place, and these.

        Parameters
        ----------
        place : of the table
        values : of it
        accepted : the keys of what it is now
        """
        table = self._at(place)[1]
        step = 0 if table is None else max(table.step("kind"), table.step("type"))
        if table is None or not step:
            return dict(values), []
        known = set(accepted)
        left = [key for key in values if key not in known and table.step(key) < step]
        return {key: value for key, value in values.items() if key not in left}, left

    def attributed(self, problem: Problem) -> Problem:
        """Return a problem with the place of the change whose value is wrong, if it is one."""
        place, table = self._at(problem.where)
        if table is None:
            return problem
        rest = _after_label(problem.where[len(place) :], table)
        for key, origin in table.origins.items():
            if f"no key {quote(key)} here" in problem.what and not rest:
                return _moved(problem, origin.where.removesuffix(f", {key}"))
            if re.match(rf"{re.escape(key)}(?:,| and |$)", rest):
                behind = "" if origin.complete else rest[len(key) :]
                return _moved(problem, origin.where + behind)
        return problem

    def blamed(self, problem: Problem) -> Problem:
        """Return a problem that only the changed file has, at the change of its table."""
        table = self._at(problem.where)[1]
        if table is None or table.latest is None:
            return problem
        return _moved(problem, table.latest.where)

    def _at(self, where: str) -> tuple[str, Table | None]:
        """Return the changed table that a place is in, and what messages call it."""
        found = [p for p in self._tables if where == p or where.startswith(f"{p}, ")]
        place = max(found, key=len, default="")
        return place, self._tables.get(place)


def _moved(problem: Problem, where: str) -> Problem:
    return Attributed(problem.what, where, problem.found, problem.accepted, problem.nearest)


def _after_label(rest: str, table: Table) -> str:
    """Return what follows a place, without the name of the thing that stands there."""
    rest = rest.removeprefix(", ")
    for key in NAMING:
        if key in table:
            label = f"{key} {quote(table[key])}"
            if rest.startswith(label):
                return rest[len(label) :].removeprefix(", ")
    return rest


@dataclass(frozen=True)
class Tried:
    """What came of reading tables.

    Attributes
    ----------
    board : None if anything is wrong
    problems : what is
    blamed : finds the change that is to blame for a problem that only the changed file has
    """

    board: Board | None
    problems: tuple[Problem, ...]
    blamed: Callable[[Problem], Problem]
