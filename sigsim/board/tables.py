"""From one TOML table to checked values, by what the item class declares.

Measured when this was written: a general validation library took 75 ms of the 160 ms that a whole
`sigsim loss` may last, most of it before the first key was looked at. The declarations do the same
in a loop, with the words of this tool.
"""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from functools import lru_cache
from itertools import pairwise
from typing import Any, Final, TypeAlias

from sigsim.board.lengths import doubted
from sigsim.board.letters import name_problem
from sigsim.errors import Problem, QuantityError, nearest, quote
from sigsim.items.fields import Spec, specs
from sigsim.physics.pot import AUDIO, LINEAR
from sigsim.units import parse

LONGEST_NAME: Final = 10_000
# Common practice, no source: twice what a coiled cord has.
_MUCH_PER_METRE: Final = 1e-9
_DAY = re.compile(r"^[0-9]{4}-[0-9]{2}-[0-9]{2}$")
_SUCH_A_DAY: Final = 'year, month and day, such as "2026-11-28"'
# What may stand between several values in one text.
_SEVERAL = re.compile(r"\d\D+\d")
_HOURS = re.compile(r"(?i)([aw])h\b")
_WITH_TOLERANCE = re.compile(r"±|\+/?[-−]")
_AUDIO_MIDPOINT = re.compile(r"^audio\s+(\d+(?:\.\d+)?)\s*%$")


@dataclass
class CheckedTable:
    """One table while it is read: the values, the tolerances and what was wrong.

    Attributes
    ----------
    place : what a message calls it
    values : checked values by key, only those given
    tolerances : by key
    problems : what was wrong
    warnings : what is accepted but probably not meant
    """

    place: str
    values: dict[str, Any] = field(default_factory=dict)
    tolerances: dict[str, float] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)

    def read(self, key: str, value: Any, spec: Spec) -> None:
        """Check one value and keep it, or note what is wrong with it."""
        try:
            self.values[key] = _check_of(spec)(self, key, value, spec)
            self.warnings += doubted(self.place, key, self.values[key])
        except QuantityError as error:
            self.problems.append(error.at(f"{self.place}, {key}").problem)


def read_table(
    item: type,
    given: Mapping[str, Any],
    place: str,
    *,
    partial: bool = False,
    also: Sequence[str] = (),
    optional: Sequence[str] = (),
) -> CheckedTable:
    """Check one table against what an item class declares.

    Parameters
    ----------
    item : the class whose specs are the accepted keys
    given : the table of the file
    place : what messages call it
    partial : whether required keys may be missing
    also : keys that belong here as well and have been read before, for messages
    optional : required keys that may be missing all the same

    Returns
    -------
    CheckedTable; `problems` is empty if all is well
    """
    table = CheckedTable(place)
    accepted = specs(item)
    for key, value in given.items():
        if key in accepted:
            table.read(key, value, accepted[key])
        else:
            from sigsim.board.homes import belongs

            keys, home = (*accepted, *also), belongs(key)
            table.problems.append(
                Problem(
                    f"there is no key {quote(key)} here{home}",
                    place,
                    accepted=", ".join(keys),
                    nearest=None if home else nearest(key, keys),
                )
            )
    for key in required(item):
        if key not in given and not partial and key not in optional:
            table.problems.append(Problem(f"{key} is missing", place))
    return table


def required(item: type) -> tuple[str, ...]:
    """Return the declared keys that have no default."""
    return tuple(
        f.name
        for f in dataclasses.fields(item)
        if "spec" in f.metadata and f.default is dataclasses.MISSING
    )


_Checked: TypeAlias = Callable[[CheckedTable, str, Any, Spec], Any]


def _choice(_table: CheckedTable, key: str, value: Any, spec: Spec) -> str:
    if isinstance(value, str) and value in spec.choices:
        return value
    from sigsim.board.meant import another

    raise another(key, value, spec) or QuantityError(
        "this word is not accepted",
        found=quote(value),
        accepted=", ".join(quote(word) for word in spec.choices),
        nearest=nearest(str(value), spec.choices),
    )


def _flag(_table: CheckedTable, _key: str, value: Any, _spec: Spec) -> bool:
    if isinstance(value, bool):
        return value
    raise QuantityError(
        "this must be a plain true or false", found=quote(value), accepted="true, false"
    )


def _text(_table: CheckedTable, _key: str, value: Any, _spec: Spec) -> str:
    if not isinstance(value, str):
        raise QuantityError("a name in quotes is wanted", found=quote(value))
    if len(value) > LONGEST_NAME:
        raise QuantityError(f"a name has at most {LONGEST_NAME} characters", found=quote(value))
    if problem := name_problem(value, ""):
        raise QuantityError(problem.what, found=problem.found, accepted=problem.accepted)
    return value


def _names(table: CheckedTable, key: str, value: Any, spec: Spec) -> tuple[str, ...]:
    if not isinstance(value, list):
        wanted = f"[{quote(value)}]" if isinstance(value, str) else 'such as ["fuzz", "echo"]'
        raise QuantityError("a list of names is wanted", found=quote(value), accepted=wanted)
    found = dict.fromkeys(_text(table, key, name, spec) for name in value)
    if spec.once and len(found) < len(value):
        twice = next(name for number, name in enumerate(value) if name in value[:number])
        what = f"{quote(twice)} stands here twice"
        raise QuantityError(what, found=quote(value), accepted="each name once")
    return tuple(found)


def _taper(_table: CheckedTable, _key: str, value: Any, _spec: Spec) -> float:
    if value == "linear":
        return LINEAR
    if value == "audio":
        return AUDIO
    match = _AUDIO_MIDPOINT.match(value) if isinstance(value, str) else None
    if match and 0 < float(match[1]) < 100:
        return float(match[1]) / 100
    raise QuantityError(
        "this is no taper",
        found=quote(value),
        accepted='"audio", "linear", "audio 15 %" (the share at mid-travel)',
        nearest=nearest(str(value), ("audio", "linear")),
    )


def _date(table: CheckedTable, key: str, value: Any, _spec: Spec) -> str:
    # Loaded only where a file has a date: the start of the program counts.
    from datetime import date, datetime, timedelta

    day = None
    if isinstance(value, date) and not isinstance(value, datetime):
        day = value
    elif isinstance(value, str) and _DAY.match(value):
        with suppress(ValueError):
            day = date.fromisoformat(value)
    if day is None:
        raise QuantityError("a day is wanted here", found=quote(value), accepted=_SUCH_A_DAY)
    # A day more, because it is tomorrow already on the other side of the earth.
    if day > date.today() + timedelta(days=1):
        table.warnings.append(f"{table.place}, {key}: {day.isoformat()} is still to come")
    return day.isoformat()


def _battery(_table: CheckedTable, _key: str, value: Any, _spec: Spec) -> Any:
    # Loaded only where a file has a battery: the start of the program counts.
    from sigsim.items.supply import Battery

    match = _HOURS.search(value) if isinstance(value, str) else None
    if match is None:
        raise QuantityError(
            "what is in a battery is told in watt-hours or in ampere-hours",
            found=quote(value),
            accepted='such as "37 Wh" or "10 Ah"',
        )
    charge = match[1].casefold() == "a"
    found = parse(value, "charge" if charge else "energy", above_zero=True)
    if found.tolerance:
        what = "no tolerance is taken here: this changes no response"
        raise QuantityError(what, found=quote(value))
    return Battery(found.value, "Ah" if charge else "Wh")


def _several(table: CheckedTable, key: str, value: Any, spec: Spec) -> tuple[float, ...]:
    """Check a list of values of one kind, or a value alone where that will do."""
    given = value if isinstance(value, list) else [value]
    two_wanted = spec.several in ("pair", "range")
    lonely = not isinstance(value, list) and two_wanted
    meant = _listed(given[0], spec) if len(given) == 1 else ""
    if lonely or not given or (two_wanted and len(given) != 2) or meant:
        from sigsim.board.meant import no_list

        raise no_list(value, given, spec, meant)
    found = tuple(_quantity(table, key, one, spec) for one in given)
    if spec.several == "range" and found[0] > found[1]:
        raise QuantityError("the larger one comes first", found=quote(value))
    if spec.several == "rising" and any(after <= one for one, after in pairwise(found)):
        from sigsim.board.meant import unsorted

        raise unsorted(found, given, value)
    return found


def _listed(value: object, spec: Spec) -> str:
    """Return the list that is meant by several values in one text; empty for one value."""
    if not isinstance(value, str) or not _SEVERAL.search(value):
        return ""
    from sigsim.board.meant import as_list

    return as_list(value, spec)


def _rows(table: CheckedTable, key: str, value: Any, spec: Spec) -> tuple[tuple[str, ...], ...]:
    accepted = 'a list of lists, the back row first, such as [["reverb", "echo"], ["drive"]]'
    if not isinstance(value, list) or not all(isinstance(row, list) for row in value):
        what = "each row is a list of names" if isinstance(value, list) else "a list is wanted here"
        raise QuantityError(what, found=quote(value), accepted=accepted)
    if not value:
        raise QuantityError("there is no row in it", found=quote(value), accepted=accepted)
    if not all(value):
        what = f"row {value.index([]) + 1} is empty"
        raise QuantityError(what, found=quote(value), accepted="one name or more in each row")
    return tuple(tuple(_text(table, key, name, spec) for name in row) for row in value)


def _edge(table: CheckedTable, key: str, value: Any, spec: Spec) -> str | tuple[float, ...]:
    if isinstance(value, list):
        return _several(table, key, value, replace(spec, kind="length", several="pair", exact=True))
    if isinstance(value, str) and value in spec.choices:
        return value
    words = ", ".join(quote(word) for word in spec.choices)
    meant = _listed(value, replace(spec, several="pair")) or 'such as ["12 cm", "4 cm"]'
    raise QuantityError(
        "this is no edge of the board, and no position on it",
        found=quote(value),
        accepted=f"{words} (the middle of that edge), or a position {meant}",
        nearest=nearest(str(value), spec.choices),
    )


# The texts of a part are read for each thing that is made from it.
_parsed: Final = lru_cache(maxsize=4096)(parse)


def _quantity(table: CheckedTable, key: str, value: Any, spec: Spec) -> float:
    # Whatever is wrong with a tolerance: one is not taken at all.
    if spec.exact and isinstance(value, str) and _WITH_TOLERANCE.search(value):
        what = "no tolerance is taken here: this changes no response"
        raise QuantityError(what, found=quote(value))
    read = _parsed if type(value) is str else parse
    found = read(value, spec.kind, above_zero=spec.above_zero, most=spec.most)
    if found.tolerance:
        table.tolerances[key] = found.tolerance
    if spec.usually_kilohms and 0 < found.value < 1:
        table.warnings.append(
            f"{table.place}, {key}: {quote(value)} is less than an ohm where kilohms are usual; "
            "M is mega and m is milli"
        )
    if spec.kind == "capacitance per length" and found.value > _MUCH_PER_METRE:
        table.warnings.append(
            f"{table.place}, {key}: {quote(value)} is more than 1 nF per metre; cables have 50 to "
            "400 pF per metre"
        )
    return found.value


_CHECKS: Final[dict[str, _Checked]] = {
    "choice": _choice,
    "flag": _flag,
    "text": _text,
    "names": _names,
    "taper": _taper,
    "date": _date,
    "battery": _battery,
    "rows": _rows,
    "edge": _edge,
}


def _check_of(spec: Spec) -> _Checked:
    if spec.several:
        return _several
    return _CHECKS.get(spec.kind, _quantity)
