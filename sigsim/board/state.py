"""Which things of a board are on, and what that is called."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from typing import Final, TypeAlias

# The names of what is on, in any order: a tuple, a set.
On: TypeAlias = Collection[str]

ALL_OFF: Final = "every stage off"
_SHOWN_OFF: Final = "all off"


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
        return _SHOWN_OFF if self.name == ALL_OFF and not self.on else self.name
