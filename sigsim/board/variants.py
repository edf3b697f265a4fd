"""A board file's tables with changes made to them: variants, and values of `--set`.

Only plain data are looked at, as a parser of TOML makes them. What comes of it is read like any
other file, so that a variant is what the same edit by hand would be.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final, TypeAlias

from sigsim.board.changed import Origin, Table, copied
from sigsim.board.changes import Altered, Version
from sigsim.board.earlier import Earlier
from sigsim.board.following import end_to_end, follow, has_names
from sigsim.board.included import Included
from sigsim.board.moving import moved
from sigsim.board.named_pickup import no_pickup, pickup
from sigsim.board.targets import OUT, SECTIONS, Target, Targets, items, labels, reserved
from sigsim.errors import Problem, UnknownNameError, nearest, quote

MOST_VARIANTS: Final = 25
# What belongs to the spot where a thing stands, and so stays when a part replaces the thing.
_OF_THE_SPOT: Final = ("before", "after", "fixed", "supply", "place")
_KEPT: Final[Mapping[str, tuple[str, ...]]] = {
    "stage": ("stage", *_OF_THE_SPOT),
    "tap": ("tap", "cable", "length", *_OF_THE_SPOT),
    "instrument": (),
    "destination": (),
    "cables": (),
    "pickup": ("name",),
}
_SUCH: Final = 'such as { part = "pedal-buffered" }'

# Puts boards into the loops of a file's tables that name them by their path; others stay.
Expand: TypeAlias = Callable[[dict[str, Any]], dict[str, Any]]


def variant_place(name: str) -> str:
    """Return what messages call a variant's table."""
    return f"[variants.{quote(name).strip(chr(34))}]"


@dataclass(frozen=True)
class Entry:
    """What is given for one name."""

    name: str
    given: Mapping[str, Any]
    origin: Origin


class Variation:
    """A file's tables while changes are made to them, one after the other.

    Parameters
    ----------
    data : of the file; they stay as they are
    expand : finds the board of a loop that a change gave another path

    Attributes
    ----------
    data : the tables as they are now
    problems : what is wrong with the changes themselves
    version : what the last variant did
    """

    def __init__(self, data: Mapping[str, Any], expand: Expand | None = None) -> None:
        self.data: dict[str, Any] = copied({k: v for k, v in data.items() if k != "variants"})
        self.expand = expand
        self.problems: list[Problem] = []
        self.version = Version("")
        self._step = 0
        self._earlier = Earlier()
        self._gone: dict[str, str] = {}

    def variant(self, name: str, table: Mapping[str, Any]) -> None:
        """Apply one variant."""
        self._step += 1
        place = variant_place(name)
        outs = self._outs(table.get(OUT, []), f"{place}, {OUT}")
        changed = self._change(list(self._entries(table, place)))
        joined = self._take_out(outs, changed, name, f"{place}, {OUT}")
        altered = tuple(_altered(entry, target) for entry, target in changed)
        self.version = Version(name, altered, tuple(outs), joined)

    def value(self, name: str, key: str, value: Any, where: str) -> None:
        """Apply one value.

        Parameters
        ----------
        name, key, value : of what
        where : what messages call it
        """
        self._step += 1
        self._change([Entry(name, {key: value}, Origin(self._step, where, complete=True))])

    def found(self, name: str) -> Target | None:
        """Return what a name means now; an old name means what took its place."""
        targets = Targets(self.data)
        found = self._earlier.found(targets, name)
        word, _, rest = name.partition(".")
        if found is None and word == "instrument" and rest:
            whole = targets.find("instrument")
            found = None if whole is None else pickup(whole, rest)
        return found

    def unknown(self, name: str, where: str) -> Problem:
        """Return the problem of a name that means nothing."""
        if name in self._gone:
            what = f"the variant {quote(self._gone[name])} leaves this out"
            return Problem(what, where, quote(name))
        word, dot, rest = name.partition(".")
        targets = Targets(self.data)
        known, whole = targets.names(), targets.find("instrument")
        if _is_pickup(name) and whole is not None:
            return no_pickup(whole, rest, where)
        if word in SECTIONS and bool(dot) == SECTIONS[word]:
            near = [one for one in known if one.startswith(f"{word}.")] if dot else known
            header = f"[{word}.{quote(rest).strip(chr(34))}]" if dot else f"[{word}]"
            what = f"there is no {header} in this file"
            return Problem(what, where, quote(name), nearest=nearest(name, near))
        error = UnknownNameError("stage, loop, split, tap or section", name, known, where=where)
        return error.problem

    def _entries(self, table: Mapping[str, Any], place: str) -> Iterator[Entry]:
        """Yield what a variant gives for each name; what is no table is a problem."""
        for name, given in table.items():
            if name == OUT:
                continue
            named = SECTIONS.get(name, False)
            tables = given if named and isinstance(given, dict) else {None: given}
            for own, values in tables.items():
                whole = name if own is None else f"{name}.{own}"
                shown = whole if reserved(whole) else quote(whole)
                where = f"{place}, {shown}"
                if not isinstance(values, dict) or (named and own is None):
                    self._fault("a table is wanted here", where, quote(values), _SUCH)
                    continue
                pickups, plain = self._split_pickups(whole, values)
                if plain or not pickups:
                    yield Entry(whole, plain, Origin(self._step, where))
                for pickup_name, of_pickup in pickups.items():
                    origin = Origin(self._step, f"{where}.{quote(pickup_name)}")
                    yield Entry(f"{whole}.{pickup_name}", of_pickup, origin)

    def _split_pickups(
        self, name: str, values: Mapping[str, Any]
    ) -> tuple[dict[str, Any], dict[str, Any]]:
        """Return the tables among an instrument's values, each named as a pickup, and the rest."""
        pickups = {}
        if name == "instrument":
            pickups = {key: value for key, value in values.items() if isinstance(value, dict)}
        return pickups, {key: value for key, value in values.items() if key not in pickups}

    def _change(self, entries: list[Entry], late: bool = False) -> list[tuple[Entry, Target]]:
        """Make changes; all names mean what they meant before, also where two are exchanged.

        What is not found then may be a pickup of the new instrument, or in a board that is new in
        its loop: it is looked for again when the others are done.
        """
        found = [
            (entry, self.found(entry.name) if late or not _is_pickup(entry.name) else None)
            for entry in entries
        ]
        done = [(entry, target) for entry, target in found if target is not None]
        seen: dict[int, str] = {}
        for entry, target in done:
            other = seen.setdefault(id(target.table), entry.name)
            if other != entry.name:
                what = f"this is the same as {quote(other)}, which is changed here already"
                self._fault(what, entry.origin.where)
        before = [(old, labels(old)) for old in items(self.data)]
        for entry, target in done:
            _give(entry, target)
        self._find_boards(done)
        self._rename(before)
        moved([(frozenset(entry.given), target) for entry, target in done])
        later = [entry for entry, target in found if target is None]
        if later and not late:
            return done + self._change(later, late=True)
        for entry in later:
            self.problems.append(self.unknown(entry.name, entry.origin.where))
        return done

    def _find_boards(self, done: list[tuple[Entry, Target]]) -> None:
        """Put the boards in that loops now name by their path."""
        loops = [t.table for entry, t in done if entry.given.keys() & {"board", "prefix"}]
        if not loops or self.expand is None:
            return
        self.expand(self.data)
        for table in loops:
            if isinstance(board := table.get("board"), Included) and not _can_be_changed(board):
                table["board"] = copied(board)

    def _rename(self, before: Iterable[tuple[Target, tuple[str, ...]]]) -> None:
        """Let all who named a thing name it as it is called now."""
        now = {id(target.table): target for target in items(self.data)}
        same = [(old, was, now[id(old.table)]) for old, was in before if id(old.table) in now]
        if any(old.name != new.name for old, _, new in same):
            follow([(old, new) for old, _, new in same])
            self._earlier.note(same)

    def _outs(self, given: object, where: str) -> list[str]:
        if isinstance(given, list) and all(isinstance(name, str) for name in given):
            return list(dict.fromkeys(given))
        self._fault("a list of names is wanted here", where, quote(given), 'such as ["echo"]')
        return []

    def _take_out(
        self, names: list[str], changed: list[tuple[Entry, Target]], variant: str, where: str
    ) -> tuple[tuple[str, str], ...]:
        """Leave things out altogether; return the cables that then lie end to end."""
        found: dict[str, Target] = {}
        for name in names:
            target = self.found(name)
            if target is not None and target.is_item:
                found[name] = target
            elif target is not None or name not in self._gone:
                self.problems.append(self._not_out(name, target, where))
        going = {id(target.table): name for name, target in found.items()}
        for entry, target in changed:
            around = [going.get(id(t.table), "") for t in (*target.around, target)]
            if out := next(filter(None, around), ""):
                what = f"this is changed in vain: the same variant leaves out {quote(out)}"
                self._fault(what, entry.origin.where)
        return self._without(found, variant, where)

    def _without(
        self, found: Mapping[str, Target], variant: str, where: str
    ) -> tuple[tuple[str, str], ...]:
        tables = {id(target.table) for target in found.values()}
        everything = list(Targets(self.data).items.values())
        gone = [t for t in everything if tables & {id(one.table) for one in (*t.around, t)}]
        holders = {id(target.holder): target for target in found.values()}
        joined: list[tuple[str, str]] = []
        for target in holders.values():
            before = list(target.holder)
            target.holder[:] = [entry for entry in before if id(entry) not in tables]
            joined += end_to_end(before, target.holder)
            owner = target.around[-1] if target.around else None
            owner_goes = any(id(one.table) in tables for one in target.around)
            may_be_empty = owner is not None and owner.kind == "split"
            if not owner_goes and not may_be_empty and not has_names(target.holder):
                self._nothing_left(owner, where)
        going = {id(target) for target in gone}
        follow([(t, None if id(t) in going else t) for t in everything] if gone else ())
        self._gone |= dict.fromkeys((target.name for target in gone), variant)
        return tuple(joined)

    def _nothing_left(self, owner: Target | None, where: str) -> None:
        if owner is None:
            self._fault("everything is out: nothing but cables is left of the chain", where)
            return
        what = f"nothing but cables is left in the loop {quote(owner.name)}"
        self._fault(what, where, accepted=f"the loop itself in the list, {quote(owner.name)}")

    def _not_out(self, name: str, target: Target | None, where: str) -> Problem:
        accepted = "names of stages, loops, splits and taps"
        tables = self.data.get("cables")
        if target is not None or (isinstance(tables, dict) and name in tables):
            return Problem("this cannot be left out", where, quote(name), accepted)
        names = tuple(Targets(self.data).items)
        return UnknownNameError("stage, loop, split or tap", name, names, where=where).problem

    def _fault(self, what: str, where: str, found: str = "", accepted: str = "") -> None:
        self.problems.append(Problem(what, where, found, accepted))


def _give(entry: Entry, target: Target) -> None:
    """Give a table its values."""
    table = target.table
    if "part" in entry.given and target.kind in _KEPT:
        for key in [key for key in table if key not in _KEPT[target.kind]]:
            del table[key]
            table.origins.pop(key, None)
    for key, value in entry.given.items():
        if key == target.kind and target.is_item and isinstance(value, str):
            # A name in a board inside is told with its prefix, which the file itself does not have.
            value = value.removeprefix(target.level.prefix)
        table.give(key, value, entry.origin.at(key))
    table.latest = entry.origin


def _can_be_changed(board: Included) -> bool:
    return isinstance(board.data, Table)


def _in_words(value: object) -> str:
    """Return a value as a person reads it; of a table its values, such as `patch 30 cm`."""
    return " ".join(map(str, value.values())) if isinstance(value, dict) else quote(value)


def _altered(entry: Entry, target: Target) -> Altered:
    new = entry.given.get(target.kind) if target.is_item else None
    keys = tuple((k, _in_words(v)) for k, v in entry.given.items() if k != target.kind)
    now = new if isinstance(new, str) and new != target.name else ""
    return Altered(entry.name, target.kind, now, keys)


def _is_pickup(name: str) -> bool:
    return name.startswith("instrument.")
