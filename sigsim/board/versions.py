"""Reading a board file that has variants, or that is changed while it is read.

Each variant is tried alone whenever its file is read, so that what is wrong in one is told like
anything else that is wrong in the file.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any, Final, TypeAlias

from sigsim.board.changed import Attributed, Tried, copied
from sigsim.board.changes import NO_CHANGES, Changes, Version
from sigsim.board.letters import NOT_SEEN, Names, name_problem
from sigsim.board.model import Board
from sigsim.board.settings import MOST_VALUES, apply_setting, setting_place
from sigsim.board.targets import Target, Targets, reserved
from sigsim.board.variants import MOST_VARIANTS, Expand, Variation, variant_place
from sigsim.errors import Problem, SigsimError, UnknownNameError, quote, shown_path

# Items of all variants together, each of which is read.
_MOST_ITEMS: Final = 40_000
_SECTION: Final = "[variants]"


Try: TypeAlias = Callable[[Mapping[str, Any]], Tried]
Refuse: TypeAlias = Callable[[list[Problem]], SigsimError]


class Versions:
    """A board file as it is written, with its variants.

    Parameters
    ----------
    file : what messages call it
    data : its tables
    tried : reads tables
    refuse : makes the error of problems
    expand : finds the board of a loop that a change gave another path

    Raises
    ------
    BoardError : with every problem of the file, those of its variants included
    """

    def __init__(
        self,
        file: str,
        data: Mapping[str, Any],
        tried: Try,
        refuse: Refuse,
        expand: Expand | None = None,
    ) -> None:
        self.file, self.data = file, data
        self._try, self._refuse, self._expand = tried, refuse, expand
        self._alone: dict[str, Board] = {}
        self._files: list[str] = []
        self.told: list[Version] = []
        base = tried(data)
        self._known = {_alike(problem) for problem in base.problems}
        self.variants, problems = _tables(data)
        self._words = {problem.where for problem in problems}
        problems += self._too_many() or [p for name in self.variants for p in self._alone_in(name)]
        if base.board is None or problems:
            raise refuse([*base.problems, *problems])
        self._base = base.board

    def board(self, changes: Changes = NO_CHANGES) -> Board:
        """Return the board with changes made to it.

        Raises
        ------
        UnknownNameError : the file has no variant of a name
        SigsimError : a value cannot be set, or the changes do not go together
        """
        for name in changes.variants:
            if name not in self.variants:
                known = tuple(self.variants)
                raise UnknownNameError("variant", name, known, where=shown_path(self.file))
        alone = changes.variants if len(changes.variants) == 1 and not changes.values else ()
        found = self._alone[alone[0]] if alone else self._base if not changes else None
        return self._marked(found if found is not None else self._changed(changes), changes)

    def refuse_lacking(self) -> None:
        """Refuse a file of which a layout leaves a cable without a length, in a variant too.

        Raises
        ------
        BoardError : with every connection to which a layout cannot give one
        """
        found = _lacking(self._base)
        known = {_alike(problem) for problem in found}
        for name, board in self._alone.items():
            new = [problem for problem in _lacking(board) if _alike(problem) not in known]
            found += [_under(variant_place(name), problem) for problem in new]
        if found:
            raise self._refuse(found)

    def _marked(self, board: Board, changes: Changes) -> Board:
        names, told = tuple(self.variants), tuple(self.told)
        files = tuple(dict.fromkeys((*board.files, *self._files)))
        return replace(board, variants=names, versions=told, changes=changes, files=files)

    def _alone_in(self, name: str) -> list[Problem]:
        """Try a variant alone; return what is wrong with it."""
        variation = Variation(self.data, self._expand)
        variation.variant(name, self.variants[name])
        self.told.append(variation.version)
        place = variant_place(name)
        words = [p for p in _taken(variation.data, "a change") if p.where not in self._words]
        if problems := variation.problems or words:
            return [p if p in variation.problems else _under(place, p) for p in problems]
        tried = self._try(variation.data)
        if tried.board is not None:
            self._alone[name] = tried.board
            self._files += tried.board.files
        return self._new(tried, place)

    def _new(self, tried: Tried, where: str) -> list[Problem]:
        """Return the problems that the file as it is written does not have."""
        found = []
        for problem in tried.problems:
            if not isinstance(problem, Attributed):
                # All texts of the file were looked at once, and those of values when they were set.
                if _alike(problem) in self._known or problem.what.endswith(NOT_SEEN):
                    continue
                problem = tried.blamed(problem)
            if not isinstance(problem, Attributed):
                problem = _under(where, problem)
            found.append(problem)
        return found

    def _changed(self, changes: Changes) -> Board:
        variation = Variation(self.data, self._expand)
        if clash := _taken(self.data, "--set"):
            raise self._error(clash)
        for name in changes.variants:
            variation.variant(name, self.variants[name])
        for number, text in enumerate(changes.values):
            if number >= MOST_VALUES:
                what = f"at most {MOST_VALUES} values can be set"
                raise SigsimError(what, where="--set", found=str(len(changes.values)))
            apply_setting(variation, text)
        if problems := variation.problems or _taken(variation.data, "a change"):
            raise self._error(problems)
        tried = self._try(variation.data)
        if tried.board is None:
            last = (
                setting_place(changes.values[-1])
                if changes.values
                else f"--variant {quote(changes.variants[-1])}"
            )
            raise self._error(self._new(tried, last))
        return tried.board

    def _error(self, problems: list[Problem]) -> SigsimError:
        """Return the error of changes: of one value it needs no name of a file."""
        if len(problems) > 1 or not problems[0].where.startswith("--set"):
            return self._refuse(problems)
        (one,) = problems
        return SigsimError(
            one.what, where=one.where, found=one.found, accepted=one.accepted, nearest=one.nearest
        )

    def _too_many(self) -> list[Problem]:
        number = len(self.variants)
        if number > MOST_VARIANTS:
            what = f"a file has at most {MOST_VARIANTS} variants"
            return [Problem(what, _SECTION, str(number))]
        chain = self.data.get("chain")
        items = _count(chain) * number
        if items > _MOST_ITEMS:
            what = f"a chain as long as this cannot have {number} variants"
            return [Problem(what, _SECTION, accepted=f"at most {_MOST_ITEMS} items in all of them")]
        return []


def _lacking(board: Board) -> list[Problem]:
    lacking = board.lacking if board.has_layout else ()
    return list(dict.fromkeys(one.problem(board.file) for one in lacking))


def _tables(data: Mapping[str, Any]) -> tuple[dict[str, Mapping[str, Any]], list[Problem]]:
    """Return the variants of a file that are tables, and what is wrong with the section."""
    given = data.get("variants", {})
    if not isinstance(given, dict):
        what = "a table is wanted here"
        return {}, [Problem(what, _SECTION, quote(given), "[variants.NAME] tables")]
    problems: list[Problem] = []
    names = Names()
    tables: dict[str, Mapping[str, Any]] = {}
    for name, table in given.items():
        place = variant_place(name)
        problem = name_problem(name, _SECTION) or names.claimed(name, place)
        if not isinstance(table, dict):
            what = "a table is wanted here"
            accepted = f"{place} with what it changes below, by the names of stages and sections"
            problem = Problem(what, place, quote(table), accepted)
        else:
            tables[name] = table
        problems += [problem] if problem else []
    return tables, problems + (_taken(data, "a variant") if given else [])


def _taken(data: Mapping[str, Any], whose: str) -> list[Problem]:
    """Return the problems of stages whose names mean something else in a change."""
    what = f"{whose} would mean something else by this name: it is a word of the board file"
    return [
        Problem(what, _written(item), accepted="another name for it")
        for name, item in Targets(copied(dict(data))).items.items()
        if reserved(name)
    ]


def _written(item: Target) -> str:
    """Return where a thing of the chain is written, the file too if it is another one."""
    place = f"{item.kind} {quote(item.name)}"
    return f"{shown_path(item.level.file)}, {place}" if item.level.file else place


def _under(where: str, problem: Problem) -> Problem:
    """Return a problem at the place of a change, with its own place behind."""
    return replace(problem, where=", ".join(filter(None, (where, problem.where))))


def _alike(problem: Problem) -> tuple[str, str, str]:
    """Return what stays of a problem where others before it are left out."""
    return problem.what, re.sub(r"item \d+", "item", problem.where), problem.found


def _count(listed: object, depth: int = 0) -> int:
    if not isinstance(listed, list) or depth > 40:
        return 0
    inner = (one.get("inside") for one in listed if isinstance(one, dict))
    return len(listed) + sum(_count(one, depth + 1) for one in inner)
