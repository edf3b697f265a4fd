"""Which things of a board are on, and what that is called."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Final, Protocol, TypeAlias, TypeVar

# The names of what is on, in any order: a tuple, a set.
On: TypeAlias = Collection[str]

# The state without a name in which nothing is on: in files and JSON, and where a person reads it.
ALL_OFF: Final = "every stage off"
ALL_OFF_TITLE: Final = "all off"


@dataclass(frozen=True)
class State:
    """A state by name; a `Board` makes them.

    Attributes
    ----------
    name : of a scene, or what is on; files and JSON have this name
    on : the names of what is on, in chain order
    """

    name: str
    on: tuple[str, ...] = ()

    def __iter__(self) -> Iterator[str]:
        return iter(self.on)

    @property
    def title(self) -> str:
        """The name that a person reads on a screen or a page."""
        return ALL_OFF_TITLE if self.name == ALL_OFF and not self.on else self.name


# Why a name cannot be on or off, by what it names.
_UNSWITCHED: Final[Mapping[str, str]] = {
    "tap": "a tap cannot be switched: it hangs on the line in every combination",
    "split": "a split cannot be switched: name what is on inside it",
}


def why_unswitched(
    name: object, branches: Mapping[str, str], cables: Collection[str]
) -> str | None:
    """Return why a name is none that can be on or off, None for one of no branch and no cable.

    Parameters
    ----------
    name : of anything
    branches : what each tap and split is, by its name
    cables : the names of the kinds of cable
    """
    if isinstance(name, str) and name in branches:
        return _UNSWITCHED[branches[name]]
    if name in cables:
        return "a cable cannot be switched: put it into a loop if it can be taken out"
    return None


class Stated(Protocol):
    """Anything that was found out about a state."""

    @property
    def state(self) -> State:
        """The state."""


_Found = TypeVar("_Found", bound=Stated)


def different(found: Iterable[_Found]) -> list[_Found]:
    """Return what was found, without states that repeat an earlier one under another name."""
    by_state: dict[tuple[str, ...], _Found] = {}
    for one in found:
        by_state.setdefault(one.state.on, one)
    return list(by_state.values())
