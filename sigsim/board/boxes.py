"""What the chain of a file has that may stand somewhere in a layout, noted while it is read."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, NamedTuple

from sigsim.board.supplied import Written
from sigsim.items.feeding import Fed, FedStage
from sigsim.items.fields import PLACING

if TYPE_CHECKING:
    from sigsim.items.layout import Outlined


class Standing(NamedTuple):
    """What a table says of where its box stands.

    Attributes
    ----------
    where : what messages call the table
    given : the keys about it that the file itself gives
    made : the box, None if anything is wrong with it
    """

    where: str
    given: tuple[str, ...]
    made: Outlined | None


@dataclass
class Boxes:
    """The stages, loops and boxes of one file as it calls them.

    Attributes
    ----------
    stages : with what they say of where they stand
    loops : what messages call their tables
    own : those that have a table of their own under `[boxes]`
    tables : the names of those under `[boxes]`
    elsewhere : the files in which those of boards inside this one stand
    """

    stages: dict[str, Standing] = field(default_factory=dict)
    loops: dict[str, str] = field(default_factory=dict)
    own: dict[str, Standing] = field(default_factory=dict)
    tables: dict[str, None] = field(default_factory=dict)
    elsewhere: dict[str, str] = field(default_factory=dict)

    @property
    def say_something(self) -> bool:
        """Whether any stage of the file says where it stands or how large it is."""
        return any(box.given for box in self.stages.values())

    def fed(self) -> Iterator[Written]:
        """Yield all that may draw a current: powered stages, and boxes that say that they do."""
        for name, box in self.stages.items():
            if isinstance(box.made, FedStage):
                yield Written(box.where, name, box.made)
        for name, fed in self.drawing().items():
            yield Written(self.own[name].where, name, fed)

    def drawing(self) -> dict[str, Fed]:
        """Return what has a table of its own and says in it what it draws, or its supply."""
        found: dict[str, Fed] = {}
        for name, box in self.own.items():
            if isinstance(box.made, Fed) and (box.made.current or box.made.supply):
                found[name] = box.made
        return found

    def note_stage(self, table: Mapping[str, Any], where: str, made: Outlined | None) -> None:
        """Note a stage from its table as in the file."""
        given = tuple(key for key in PLACING if key in table)
        if isinstance(name := table["stage"], str):
            self.stages.setdefault(name, Standing(where, given, made))

    def note_loop(self, name: object, where: str) -> None:
        """Note a loop."""
        if isinstance(name, str):
            self.loops.setdefault(name, where)

    def note_inside(self, prefix: str, inner: Boxes, file: str) -> None:
        """Note what a board inside has.

        Parameters
        ----------
        prefix : what stands before its names here
        inner : what it has
        file : that it stands in
        """
        files = dict.fromkeys((*inner.stages, *inner.loops, *inner.tables), file) | inner.elsewhere
        self.elsewhere |= {prefix + name: found for name, found in files.items()}
