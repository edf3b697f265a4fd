"""A board as it was understood: plain data, no computing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeAlias

from sigsim.errors import UnknownNameError
from sigsim.items.cable import Cable, CableSpec
from sigsim.items.loop import Loop
from sigsim.items.stage import ActiveStage

if TYPE_CHECKING:
    from sigsim.items.base import Item
    from sigsim.items.destination import Destination
    from sigsim.items.instrument import ActiveInstrument, PassiveInstrument

    Instrument: TypeAlias = PassiveInstrument | ActiveInstrument

ALL_OFF = "every stage off"


@dataclass(frozen=True, kw_only=True)
class Board:
    """Instrument, chain and destination, with the scenes a player uses.

    Attributes
    ----------
    title : of the board, may be empty
    file : where it was read from
    instrument, destination : the two ends
    chain : all items in order, the wiring between stages already in place
    cables : the kinds of cable by name
    scenes : the names of what is on, by scene
    warnings : what is accepted but probably not meant
    wiring : the cable that was put between neighbours without one, None for none
    """

    title: str
    file: str
    instrument: Instrument
    destination: Destination
    chain: tuple[Item, ...]
    cables: Mapping[str, CableSpec] = field(default_factory=dict)
    scenes: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()
    wiring: Cable | None = None

    @property
    def name(self) -> str:
        """The title, or the file's name without one."""
        return self.title or self.file

    @property
    def lead(self) -> Cable | None:
        """The instrument's own lead: the cable that comes first, None if there is none."""
        return next((i for i in self.chain if isinstance(i, Cable) and i.is_lead), None)

    def items(self) -> Iterator[Item]:
        """Yield every item, loops before what is inside them."""
        yield from _flatten(self.chain)

    def switches(self) -> tuple[str, ...]:
        """Return the names of everything that can be switched, in chain order."""
        return tuple(item.switch for item in self.items() if item.switch is not None)

    def in_order(self, on: frozenset[str]) -> tuple[str, ...]:
        """Return the names in `on` in chain order."""
        return tuple(name for name in self.switches() if name in on)

    def heard(self, on: frozenset[str]) -> frozenset[str]:
        """Return `on` without what is inside a loop that is out."""
        return frozenset(_heard(self.chain, on))

    def state(self, names: frozenset[str] | set[str], where: str = "") -> frozenset[str]:
        """Return the state with `names` on; what is always on may be named and changes nothing.

        Raises
        ------
        UnknownNameError : a name that is no stage or loop of this board
        """
        switches = set(self.switches())
        for name in sorted(names - switches):
            known = self.stage_names()
            if name not in known:
                raise UnknownNameError("stage or loop", name, known, where=where)
        return frozenset(names & switches)

    def stage_names(self) -> tuple[str, ...]:
        """Return the names of all stages and loops, switchable or not."""
        return tuple(i.label for i in self.items() if hasattr(i, "stage") or isinstance(i, Loop))

    def scene(self, name: str) -> frozenset[str]:
        """Return the state of a scene.

        Raises
        ------
        UnknownNameError : the board has no such scene
        """
        if name not in self.scenes:
            raise UnknownNameError("scene", name, tuple(self.scenes), where=self.file)
        return self.state(set(self.scenes[name]), self.file)

    def powered(self) -> Iterator[ActiveStage]:
        """Yield the powered stages."""
        for item in self.items():
            if isinstance(item, ActiveStage):
                yield item


def _flatten(items: tuple[Item, ...]) -> Iterator[Item]:
    for item in items:
        yield item
        if isinstance(item, Loop):
            yield from _flatten(item.inside)


def _heard(items: tuple[Item, ...], on: frozenset[str]) -> Iterator[str]:
    for item in items:
        if item.switch in on and item.switch is not None:
            yield item.switch
            if isinstance(item, Loop):
                yield from _heard(item.inside, on)
