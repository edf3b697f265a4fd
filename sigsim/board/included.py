"""A board file inside another one: what stands in a loop's table in place of its path."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from sigsim.errors import quote

if TYPE_CHECKING:
    from sigsim.board.parts import Library, Part


@dataclass
class Included:
    """A board file that a loop holds, read and parsed, with those that it holds itself.

    Attributes
    ----------
    path : as the loop's table gives it
    file : what messages call it
    text : of the file
    data : parsed; a loop's `board` in it is an `Included` again
    prefix : what stands before every name of it outside
    """

    path: str
    file: str
    text: str
    data: dict[str, Any]
    prefix: str = ""

    def __str__(self) -> str:
        """Return its path as a file has it, for messages."""
        return quote(self.path)


@dataclass(frozen=True)
class Naming:
    """What the things of a board file are called in the board that holds it.

    Attributes
    ----------
    prefix : what stands before every stage, loop, split and tap
    cables : what stands before every kind of cable, as `send: `
    main : the parts of one's own of the board that holds all others
    """

    prefix: str = ""
    cables: str = ""
    main: Mapping[str, Part] = field(default_factory=dict)

    def item(self, name: str) -> str:
        """Return what a stage, loop, split or tap is called."""
        return self.prefix + name

    def cable(self, name: str) -> str:
        """Return what a kind of cable is called."""
        return self.cables + name

    def part(self, name: str, library: Library) -> str:
        """Return what a part is called that a thing started from.

        Parameters
        ----------
        name : in the file
        library : that the file can name parts of
        """
        own = library.own.get(name) if self.cables else None
        return name if own is None or own == self.main.get(name) else self.cables + name

    def inside(self, loop: str, prefix: str) -> Naming:
        """Return the naming of the board in a loop.

        Parameters
        ----------
        loop : its name in the file that has it
        prefix : that it gives to what is inside
        """
        cables = self.cables + of_board(self.item(loop))
        return Naming(self.prefix + prefix, cables, self.main)


PLAIN = Naming()


def of_board(loop: str) -> str:
    """Return what stands before the cables, and the scenes, of the board in a loop."""
    return f"{loop}: "
