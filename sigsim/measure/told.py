"""A comparison with the plan as `verify --json` wrote it, read back."""

from __future__ import annotations

import json
import os
import re
import stat
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final, NoReturn, TypeVar

from sigsim.errors import SigsimError, quote, shown_path
from sigsim.measure.comparison import agreement
from sigsim.measure.verdict import BandLoss, Between, StateVerdict, Suspect, Verified
from sigsim.quantities import KINDS

if TYPE_CHECKING:
    from sigsim.board.model import Board

MOST_BYTES: Final = 4_000_000
# Far more than are ever written, and still shown in an instant.
_MOST: Final[Mapping[str, int]] = {
    "states": 64,
    "bands": 100,
    "suspects": 200,
    "each": 200,
    "names": 20_000,
    "things": 20_000,
    "on": 20_000,
    "record_next": 20_000,
    "notes": 100,
    "variants": 100,
}
_LONGEST: Final = 20_000
_MOST_DB, _MOST_HZ, _MOST_CHANGE = 1000.0, 1e6, 1e12
_KEY: Final = re.compile(r"[a-z][a-z_]{0,39}")
_UNITS: Final = frozenset(kind.symbol for kind in KINDS.values())
_WITHOUT: Final = ("direct", "bare", "ideal")
_WRITTEN: Final = "a file that `sigsim verify … --json` wrote"
_T = TypeVar("_T")


def read_verified(path: str, board: Board, variants: Sequence[Board] = ()) -> Verified:
    """Read a comparison back.

    Parameters
    ----------
    path : of a file that `verify --json` wrote
    board : the plan that was compared
    variants : of its file; the comparison may be of one of them instead

    Raises
    ------
    SigsimError : the file cannot be read, holds something else, or names what the board has not
    """
    where = shown_path(path)
    values = _Values(_parsed(_bytes(path, where), where), where)
    at = values.get("at", _text, "")
    read_with = values.texts("variants")
    board = next((one for one in variants if one.changes.variants == read_with), board)
    board = board.heard_at(at) if at else board
    states = tuple(values.each("states", lambda one: _state(one, board)))
    if not any(state.bands for state in states):
        raise SigsimError("there is no third octave in it", where=where, accepted=_WRITTEN)
    limit = values.need("limit_db", _decibels)
    up_to, within = agreement(states, limit)
    named = values.get("board", _text, "")
    other = "" if named in ("", board.name) else f"The comparison is of the board {quote(named)}."
    return Verified(
        board=board,
        driven_by=values.get("driven_by_ohm", _positive, None),
        without_means=values.get("without_means", _reference, "direct"),
        states=states,
        largest_difference=values.get("largest_difference_db", _decibels, None),
        limit=limit,
        within_limit=values.need("within_limit", _flag),
        agrees_to=values.get("agrees_to_hz", _hertz, up_to),
        suspects=tuple(s for group in values.each("suspects", _group) for s in group),
        record_next=values.names("record_next", board) if values.has("record_next") else None,
        notes=tuple(dict.fromkeys((*filter(None, [other]), *values.texts("notes")))),
        agrees_within=values.get("agrees_within_db", _decibels, within),
    )


def _bytes(path: str, where: str) -> bytes:
    """Return what a file holds; a pipe is not waited for."""
    try:
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0))
        with open(handle, "rb") as file:
            if not stat.S_ISREG(os.fstat(handle).st_mode):
                raise SigsimError("this is no ordinary file", where=where, accepted=_WRITTEN)
            raw = file.read(MOST_BYTES + 1)
    except FileNotFoundError:
        raise SigsimError("there is no such file", where=where, accepted=_WRITTEN) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise SigsimError(f"the file cannot be read: {reason}", where=where) from None
    if len(raw) > MOST_BYTES:
        what = f"the file is larger than {MOST_BYTES // 10**6} MB"
        raise SigsimError(what, where=where, accepted=_WRITTEN)
    return raw


def _parsed(raw: bytes, where: str) -> Any:
    def refuse(word: str) -> NoReturn:
        raise SigsimError("every number has to be finite", where=where, found=word)

    try:
        return json.loads(raw.decode("utf-8-sig"), parse_constant=refuse)
    except (ValueError, RecursionError):
        raise SigsimError("this is no JSON", where=where, accepted=_WRITTEN) from None


class _Values:
    """One object of the file, with what a message calls it."""

    def __init__(self, values: object, where: str) -> None:
        if not isinstance(values, dict):
            raise SigsimError(
                "an object is wanted", where=where, found=quote(values), accepted=_WRITTEN
            )
        self.values, self.where = values, where

    def has(self, key: str) -> bool:
        """Whether a key is there and not null."""
        return self.values.get(key) is not None

    def need(self, key: str, read: Callable[[Any, str], _T]) -> _T:
        """Return a value that has to be there."""
        if key not in self.values:
            raise SigsimError(f"{key} is missing", where=self.where, accepted=_WRITTEN)
        return read(self.values[key], f"{self.where}, {key}")

    def get(self, key: str, read: Callable[[Any, str], _T], otherwise: Any) -> Any:
        """Return a value that may be missing or null."""
        return self.need(key, read) if self.has(key) else otherwise

    def inner(self, key: str) -> _Values:
        """Return an object in this one."""
        return self.need(key, _Values)

    def each(self, key: str, read: Callable[[_Values], _T]) -> list[_T]:
        """Return what is made of the objects of a list."""
        items = self._list(key)
        where = f"{self.where}, {key}, item"
        return [read(_Values(item, f"{where} {n}")) for n, item in enumerate(items, 1)]

    def texts(self, key: str) -> tuple[str, ...]:
        """Return a list of texts, empty where there is none."""
        items = self._list(key) if self.has(key) else []
        return tuple(
            _text(item, f"{self.where}, {key}, item {n}") for n, item in enumerate(items, 1)
        )

    def names(self, key: str, board: Board) -> tuple[str, ...]:
        """Return names of what is on, which the board has to have."""
        return board.checked(self.texts(key), f"{self.where}, {key}").on

    def _list(self, key: str) -> list[Any]:
        def read(value: Any, where: str) -> list[Any]:
            if not isinstance(value, list):
                raise SigsimError("a list is wanted", where=where, found=quote(value))
            if len(value) > _MOST[key]:
                what, found = f"there are at most {_MOST[key]:,} of these", f"{len(value):,}"
                raise SigsimError(what, where=where, found=found, accepted=_WRITTEN)
            return value

        return self.need(key, read)


def _state(values: _Values, board: Board) -> StateVerdict:
    on = values.need("on", lambda _value, _where: values.names("on", board))
    name = values.get("state", _text, "")
    treble = values.inner("treble_loss_db")
    return StateVerdict(
        state=board.state(frozenset(on), name if name in board.scenes else ""),
        bands=tuple(values.each("bands", _band)),
        measured=_between(treble.inner("measured"), "value", "low", "high"),
        predicted=_between(treble.inner("predicted"), "value", "low", "high"),
    )


def _band(values: _Values) -> BandLoss:
    measured, predicted = (
        _between(values, f"{name}_db", f"{name}_low_db", f"{name}_high_db")
        for name in ("measured", "predicted")
    )
    return BandLoss(values.need("frequency_hz", _hertz), measured, predicted)


def _between(values: _Values, value: str, low: str, high: str) -> Between:
    found = Between(*(values.need(key, _decibels) for key in (value, low, high)))
    if found.low > found.high:
        ends = f"{found.low:g} and {found.high:g}"
        what = f"the lower end of {value} is over the upper one"
        raise SigsimError(what, where=values.where, found=ends)
    return found


def _group(values: _Values) -> tuple[Suspect, ...]:
    """Return what cannot be told apart; where it is not listed one by one, as one."""
    return tuple(values.each("each", _suspect)) if values.has("each") else (_suspect(values),)


def _suspect(values: _Values) -> Suspect:
    names = values.texts("names")
    if not names:
        raise SigsimError("names is empty", where=values.where, accepted=_WRITTEN)
    return Suspect(
        names=names,
        key=values.need("key", _key),
        change=values.get("change", _within(-_MOST_CHANGE, _MOST_CHANGE), 0.0),
        unit=values.need("unit", _unit),
        explains=values.get("explains", _within(-10.0, 10.0), 0.0),
        things=values.texts("things"),
    )


def _within(low: float, high: float) -> Callable[[Any, str], float]:
    def read(value: Any, where: str) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise SigsimError("a number is wanted", where=where, found=quote(value))
        if not low <= value <= high:
            raise SigsimError(
                "this number cannot be meant",
                where=where,
                found=quote(value),
                accepted=f"{low:g} to {high:g}",
            )
        return float(value)

    return read


_decibels: Final = _within(-_MOST_DB, _MOST_DB)
_hertz: Final = _within(1.0, _MOST_HZ)
_positive: Final = _within(0.0, _MOST_CHANGE)


def _text(value: Any, where: str) -> str:
    if not isinstance(value, str) or len(value) > _LONGEST:
        raise SigsimError("a text is wanted", where=where, found=quote(value))
    return value


def _flag(value: Any, where: str) -> bool:
    if not isinstance(value, bool):
        raise SigsimError("true or false is wanted", where=where, found=quote(value))
    return value


def _one_of(words: frozenset[str] | tuple[str, ...]) -> Callable[[Any, str], str]:
    def read(value: Any, where: str) -> str:
        if not isinstance(value, str) or value not in words:
            accepted = ", ".join(sorted(filter(None, words)))
            raise SigsimError(
                "this word is not known", where=where, found=quote(value), accepted=accepted
            )
        return value

    return read


_reference: Final = _one_of(_WITHOUT)
_unit: Final = _one_of(_UNITS)


def _key(value: Any, where: str) -> str:
    if not isinstance(value, str) or not _KEY.fullmatch(value):
        what = "a key of a board file is wanted"
        raise SigsimError(what, where=where, found=quote(value), accepted=_WRITTEN)
    return value
