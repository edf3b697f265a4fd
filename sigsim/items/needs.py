"""Which key needs what beside it: without that it can have no effect.

An item class lists its needs in `needs`, beside its fields. The reader of a file refuses what the
file writes in vain, the JSON Schema and the key tables of the manual tell it beforehand.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, Final

PICKUPS: Final = "pickups"


@dataclass(frozen=True)
class Need:
    """What has to hold for some keys to be heard.

    Attributes
    ----------
    keys : that can have no effect otherwise
    of : the key that is looked at, or several of which one will do
    why : a plain sentence for who wrote such a key in vain
    words : what it has to be, None for "not given"; empty for "given, and not 0"
    least, most : how many there have to be, for a list; `least` None for a key that is no list
    but : by key, a word that does not do where all that is asked is that it is given
    """

    keys: tuple[str, ...]
    of: tuple[str, ...]
    why: str
    words: tuple[object, ...] = ()
    least: int | None = None
    most: float = float("inf")
    but: tuple[tuple[str, str], ...] = ()

    def holds(self, values: Mapping[str, Any], item: type) -> bool:
        """Whether it holds for the values of a table; what is not given has its default."""
        return any(self._fits(k, values[k] if k in values else default(item, k)) for k in self.of)

    def _fits(self, key: str, value: Any) -> bool:
        if (key, value) in self.but:
            return False
        if self.words:
            return value in self.words
        if self.least is not None:
            return self.least <= len(value) <= self.most
        return value is not None and value != 0 and value != ()

    @property
    def said(self) -> str:
        """What has to be there, as a person would write it in the file."""
        if self.words == (None,):
            return f"{' or '.join(self.of)} left out"
        if self.words:
            return f"{self.of[0]} = {' or '.join(_toml(word) for word in self.words)}"
        if self.least is not None:
            return "two or more [[instrument.pickups]]" if self.least else "no pickups beside it"
        return " or ".join(self._shown(key) for key in self.of)

    def _shown(self, key: str) -> str:
        wrong = "".join(f" other than {_toml(word)}" for of, word in self.but if of == key)
        return "[[instrument.pickups]]" if key == PICKUPS else key + wrong


def _toml(word: object) -> str:
    return str(word).lower() if isinstance(word, bool) else f'"{word}"'


def default(item: type, key: str) -> Any:
    """Return what holds for a key that is not given, None if it has no default."""
    field = next((f for f in dataclasses.fields(item) if f.name == key), None)
    return None if field is None or field.default is dataclasses.MISSING else field.default


@cache
def needs(item: type) -> tuple[Need, ...]:
    """Return the needs of an item class: its own first, then those it inherits."""
    listed: list[Need] = []
    for owner in item.__mro__:
        listed += vars(owner).get("needs", ())
    return tuple(listed)


def needs_of(item: type, key: str) -> tuple[Need, ...]:
    """Return the needs of one key."""
    return tuple(need for need in needs(item) if key in need.keys)


def told(item: type, key: str) -> str:
    """Return what a key needs as words to put behind its help, empty if it needs nothing."""
    said = [need.said for need in needs_of(item, key)]
    return f"; counts only with {', '.join(said)}" if said else ""


def idle(
    item: type,
    values: Mapping[str, Any],
    beside: Mapping[str, Any],
    unread: Collection[str] = (),
) -> dict[str, Need]:
    """Return the given keys that can have no effect, each with the first need that fails.

    Parameters
    ----------
    item : the class that is made of the table
    values : checked, by key
    beside : of the surrounding table, and of keys that are read apart
    unread : keys that are there, but whose value is not known; they count as what is needed
    """
    found: dict[str, Need] = {}
    before = -1
    while len(found) > before:  # what is not heard does not help another key to be heard
        before = len(found)
        for need in needs(item):
            heard = {key: value for key, value in values.items() if key not in found} | {**beside}
            waiting = [key for key in need.keys if key in values and key not in found]
            known = not any(key in unread for key in need.of)
            if waiting and known and not need.holds(heard, item):
                found |= dict.fromkeys(waiting, need)
    return found
