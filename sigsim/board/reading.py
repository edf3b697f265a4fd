"""What all readers of a board file share: gathered problems, parts merged in, items made."""

from __future__ import annotations

import shlex
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import Any

from sigsim.board.awaited import AWAITED
from sigsim.board.changed import Places
from sigsim.board.idle import leave_out_idle
from sigsim.board.included import PLAIN, Naming
from sigsim.board.parts import OURS, Library
from sigsim.board.tables import read_table
from sigsim.errors import LONGEST_QUOTE, Problem, UnknownNameError, nearest, quote
from sigsim.items.cable import Cable, CableSpec
from sigsim.items.fields import MEASURED, figure_keys, specs
from sigsim.items.needs import PICKUPS
from sigsim.units import carries_tolerance


class Reading:
    """The problems and warnings of one file while it is read.

    Attributes
    ----------
    problems, warnings : so far
    unmerged : the places whose part is not known, so that their keys may be missing
    from_part : by place, the keys whose value is the part's and not the file's
    lengths : of the cables [m], each with its place
    changed : the tables that a variant or an option changed
    library : the parts that the file can name
    naming : what its things are called in the board that holds it
    has_layout : whether the file says where its boxes stand, so that cables can do without a length
    problems_elsewhere : with their file and line, those of boards inside this one and of parts
    warnings_elsewhere : of the same, with their file
    """

    def __init__(self, library: Library = OURS, naming: Naming = PLAIN) -> None:
        self.problems: list[Problem] = []
        self.warnings: list[str] = []
        self.unmerged: set[str] = set()
        self.from_part: dict[str, frozenset[str]] = {}
        self.lengths: list[tuple[str, float]] = []
        self.changed = Places()
        self.library = library
        self.naming = naming
        self.has_layout = False
        self.problems_elsewhere: list[Problem] = []
        self.warnings_elsewhere: list[str] = []

    def fault(
        self,
        what: str,
        where: str = "",
        found: str = "",
        accepted: str = "",
        nearest: str | None = None,
    ) -> None:
        """Note a problem."""
        self.problems.append(Problem(what, where, found, accepted, nearest))

    def table(self, value: object, place: str) -> dict[str, Any] | None:
        """Return a table as a dictionary, or note that it is none."""
        if isinstance(value, dict):
            self.changed.note(place, value)
            return dict(value)
        single = isinstance(value, list) and place.startswith("[") and not place.startswith("[[")
        accepted = f"{place} with one bracket on each side, once" if single else ""
        self.fault("a table is wanted here", place, quote(value), accepted)
        return None

    def make(
        self,
        item: type,
        values: Mapping[str, Any],
        place: str,
        part: str = "",
        extra: Mapping[str, Any] | None = None,
        also: Sequence[str] = (),
        beside: Mapping[str, Any] | None = None,
    ) -> Any:
        """Check a table and make the item from it, None if anything is wrong.

        Parameters
        ----------
        item : the class to make
        values : the keys of the file
        place : what messages call it
        part : the part the values started from
        extra : fields that do not come from this table
        also : keys that belong here as well and have been read before, for messages
        beside : values of other tables that decide whether a key here is heard
        """
        values, foreign = self.changed.without_other_kinds(place, values, specs(item))
        self.warnings += [
            f"{place}, {key}: left out, because what stands here now has no such key"
            for key in foreign
        ]
        table = read_table(item, values, place, partial=place in self.unmerged, also=also)
        if place not in self.unmerged:
            leave_out_idle(
                item,
                table,
                {**(extra or {}), **(beside or {})},
                given=values,
                from_part=self.from_part.get(place, frozenset()),
                part=part,
                forgiven=partial(self.changed.forgives, place),
            )
        self.problems += table.problems
        self.warnings += table.warnings
        if table.problems or place in self.unmerged:
            return None
        if table.values.get(MEASURED) and not (extra or {}).get(PICKUPS):
            self._measured_what(item, values, place)
        known = specs(item)
        own = {k: values[k] for k in table.values if k in values and not known[k].exact}
        bare = _bare(own) - self.from_part.get(place, frozenset()) - {MEASURED}
        return item(
            **table.values,
            **(extra or {}),
            tolerances=table.tolerances,
            part=self.naming.part(part, self.library),
            bare=bare,
        )

    def _measured_what(self, item: type, values: Mapping[str, Any], place: str) -> None:
        """Note where it is told when figures were measured that are not in the file."""
        own = values.keys() - self.from_part.get(place, frozenset())
        if own.isdisjoint(figure_keys(specs(item))):
            self.warnings.append(
                f"{place}, {MEASURED}: this table has no figure of its own that was measured"
            )

    def suits(self, part: str, place: str, key: str, word: str) -> bool:
        """Whether a part is of the kind or type that its table is; note it if not.

        Parameters
        ----------
        part : its name, empty for none
        place : what messages call the table
        key : "kind" or "type"
        word : what the table is
        """
        usual = {"kind": "active", "type": "passive"}[key]
        if not part or place in self.unmerged:
            return True
        own = self.library.part(part).values.get(key, usual)
        if own == word:
            return True
        self.fault(
            f"nothing of this part has an effect here: its {key} is {quote(own)}",
            f"{place}, part",
            quote(part),
            f"a part with {key} = {quote(word)}, or no {key} beside it",
        )
        return False

    def advise_part(self, name: object, first: int) -> None:
        """Say with the first figure that a stage lacks, from a problem on, how a part is found."""
        for index in range(first, len(self.problems)):
            if (problem := self.problems[index]).what.endswith(" is missing"):
                like = shlex.quote(name[:LONGEST_QUOTE]) if isinstance(name, str) else "NAME"
                accepted = f"the figure, or part = …; `sigsim parts --like {like}` finds one"
                self.problems[index] = replace(problem, accepted=accepted)
                return

    def kind_of_cable(self, name: str, table: object) -> CableSpec | None:
        """Make a kind of cable from its table under `[cables]`, None if anything is wrong."""
        place = f"[cables.{quote(name).strip(chr(34))}]"
        raw = self.table(table, place)
        if raw is None:
            return None
        values, part = merged_part(self, raw, place, ("cable",))
        made: CableSpec | None = self.make(CableSpec, values, place, part, also=("part",))
        return made

    def cable(
        self,
        values: Mapping[str, Any],
        place: str,
        cables: Mapping[str, CableSpec | None],
        far: str = "",
    ) -> Cable | None:
        """Make a cable from its name and length, None if anything is wrong.

        Parameters
        ----------
        values : the keys of the file
        place : what messages call it
        cables : the kinds of cable, None for one that could not be read
        far : why no layout can tell how long it is, empty where one can
        """
        table = read_table(Cable, values, place, optional=("length",))
        if is_laid := "length" not in values:
            is_laid = self.has_layout and not far
            table.problems += [] if is_laid else [self._no_length(place, far)]
        self.problems += table.problems
        if "length" in table.values:
            self.lengths.append((place, table.values["length"]))
        name = table.values.get("cable")
        if name is None:
            return None
        if name not in cables:
            self.fault(
                "there is no cable of this name",
                f"{place}, cable",
                quote(name),
                ", ".join(quote(n) for n in cables) or "a table [cables.NAME]",
                nearest(name, cables),
            )
            return None
        spec = cables[name]
        if spec is None or table.problems:
            return None
        bare = _bare(values) - {MEASURED}
        given = {"length": 0.0, **table.values, "cable": self.naming.cable(name)}
        lays = AWAITED if is_laid else None
        return Cable(spec=spec, tolerances=table.tolerances, bare=bare, lays=lays, **given)

    def _no_length(self, place: str, far: str) -> Problem:
        if self.has_layout and far:
            return Problem(f"length is missing: {far}", place)
        accepted = "" if far else "a length, or a table [layout] that says where the boxes stand"
        return Problem("length is missing", place, accepted=accepted)


def _bare(values: Mapping[str, Any]) -> frozenset[str]:
    """Return the keys whose value does not say how sure it is."""
    return frozenset(key for key, value in values.items() if not carries_tolerance(value))


def merged_part(
    reading: Reading, table: Mapping[str, Any], place: str, kinds: tuple[str, ...]
) -> tuple[dict[str, Any], str]:
    """Return a table with its part's values underneath, and the part's name.

    Parameters
    ----------
    reading : where problems go
    table : as in the file
    place : what messages call it
    kinds : the kinds of part that may stand here
    """
    own = dict(table)
    name = own.pop("part", None)
    if name is None:
        return own, ""
    where = f"{place}, part"
    if not isinstance(name, str):
        reading.fault("a part's name in quotes is wanted", where, quote(name))
        return own, ""
    try:
        found = reading.library.part(name, kinds, where=where)
    except UnknownNameError as error:
        reading.problems += [] if reading.library.is_faulty else [error.problem]
        reading.unmerged.add(place)
        return own, ""
    if reading.library.is_faulty and name in reading.library.own:
        reading.unmerged.add(place)
        return own, ""
    if found.kind not in kinds:
        reading.fault(
            f"this is a part for {found.kind} tables",
            where,
            quote(name),
            f"a part of kind {' or '.join(kinds)}" if kinds else "no part can stand here",
        )
        reading.unmerged.add(place)
        return own, ""
    reading.from_part[place] = frozenset(found.values) - frozenset(own)
    return {**found.values, **own}, name
