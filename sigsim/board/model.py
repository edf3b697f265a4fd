"""A board as it was understood: what its file lists, and the wired chain that follows from it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, TypeAlias, cast

from sigsim.board.state import ALL_OFF, On, State, why_unswitched
from sigsim.board.wiring import lead_place, wired
from sigsim.errors import SigsimError, UnknownNameError, quote
from sigsim.items.cable import Cable, CableSpec
from sigsim.items.loop import Loop
from sigsim.items.stage import ActiveStage
from sigsim.items.tap import Tap

if TYPE_CHECKING:
    from sigsim.items.base import Item
    from sigsim.items.destination import Destination
    from sigsim.items.ends import OutputOf
    from sigsim.items.instrument import ActiveInstrument, PassiveInstrument

    Instrument: TypeAlias = PassiveInstrument | ActiveInstrument | OutputOf


@dataclass(frozen=True, kw_only=True)
class Board:
    """Instrument, chain and destination, with the scenes a player uses.

    Attributes
    ----------
    title : of the board, may be empty
    file : where it was read from
    instrument, destination : the two ends
    listed : the items of the chain as the file lists them; a loop holds what it lists
    wiring : the cable that belongs between neighbours without one, None for none
    cables : the kinds of cable by name
    scenes : the names of what is on, by scene
    warnings : what is accepted but probably not meant
    keeps_lead : whether what a loss is measured against has the instrument's own lead
    """

    title: str
    file: str
    instrument: Instrument
    destination: Destination
    listed: tuple[Item, ...]
    wiring: Cable | None = None
    cables: Mapping[str, CableSpec] = field(default_factory=dict)
    scenes: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()
    keeps_lead: bool = True

    @property
    def name(self) -> str:
        """The title, or the file's name without one."""
        return self.title or self.file

    @cached_property
    def chain(self) -> tuple[Item, ...]:
        """All items in order, the wiring between neighbours in place and the lead marked."""
        return wired(self.with_lead(), self.wiring)

    def with_lead(self) -> tuple[Item, ...]:
        """Return the listed items with the instrument's lead marked, if references have it."""
        items, place = list(self.listed), self.lead_place
        if place is not None:
            items[place] = replace(cast(Cable, items[place]), is_lead=True)
        return tuple(items)

    @property
    def lead_place(self) -> int | None:
        """Where in the list the instrument's own lead is, if the references have it."""
        return lead_place(self.listed) if self.keeps_lead else None

    @property
    def lead(self) -> Cable | None:
        """The instrument's own lead: the cable that comes first, None if there is none."""
        return next((i for i in self.chain if isinstance(i, Cable) and i.is_lead), None)

    def items(self) -> Iterator[Item]:
        """Yield every item, loops before what is inside them."""
        yield from _flatten(self.chain)

    def pieces(self, role: str | None = None) -> Iterator[Cable]:
        """Yield every piece of cable in order, those of taps included; `role` picks one name."""
        yield from (piece for piece in pieces_of(self.chain) if role in (None, piece.cable))

    def powered(self) -> Iterator[ActiveStage]:
        """Yield the powered stages."""
        yield from (item for item in self.items() if isinstance(item, ActiveStage))

    def switches(self) -> tuple[str, ...]:
        """Return the names of everything that can be switched, in chain order."""
        return tuple(item.switch for item in self.items() if item.switch is not None)

    def stage_names(self) -> tuple[str, ...]:
        """Return the names of all stages and loops, switchable or not."""
        return tuple(i.label for i in self.items() if not isinstance(i, Cable | Tap))

    def item_names(self) -> tuple[str, ...]:
        """Return the names that no two things of the chain share: stages, loops, taps."""
        return tuple(i.label for i in self.items() if not isinstance(i, Cable))

    def heard(self, on: On) -> frozenset[str]:
        """Return `on` without what is inside a loop that is out."""
        return frozenset(_heard(self.chain, on))

    def state(self, on: On, name: str = "") -> State:
        """Return a state; without a name it is called by what is on.

        Parameters
        ----------
        on : names of switches; see `checked` for names from outside
        name : of the state
        """
        names = tuple(switch for switch in self.switches() if switch in on)
        return State(name or " + ".join(names) or ALL_OFF, names)

    def checked(self, names: Iterable[str], where: str = "") -> State:
        """Return the state with these on; what is always on may be named and changes nothing.

        Raises
        ------
        UnknownNameError : a name that is no stage or loop of this board
        SigsimError : the name of a tap or a cable, which have no switch
        """
        known = self.stage_names()
        for name in sorted(set(names) - set(known)):
            taps = [item.tap for item in self.items() if isinstance(item, Tap)]
            why = why_unswitched(name, taps, self.cables)
            if why is not None:
                raise SigsimError(why, where=where, found=quote(name))
            raise UnknownNameError("stage or loop", name, known, where=where)
        return self.state(frozenset(names))

    def scene(self, name: str) -> State:
        """Return the state of a scene.

        Raises
        ------
        UnknownNameError : the board has no such scene
        """
        if name not in self.scenes:
            raise UnknownNameError("scene", name, tuple(self.scenes), where=self.file)
        return replace(self.checked(self.scenes[name], self.file), name=name)

    def named_states(self) -> tuple[State, ...]:
        """Return every stage off and each scene."""
        return State(ALL_OFF), *(self.scene(name) for name in self.scenes)


def _flatten(items: tuple[Item, ...]) -> Iterator[Item]:
    for item in items:
        yield item
        if isinstance(item, Loop):
            yield from _flatten(item.inside)


def pieces_of(items: tuple[Item, ...]) -> Iterator[Cable]:
    """Yield every piece of cable among some items, those of taps and inside loops included."""
    for item in _flatten(items):
        piece = item.cable if isinstance(item, Tap) else item
        if isinstance(piece, Cable):
            yield piece


def _heard(items: tuple[Item, ...], on: On) -> Iterator[str]:
    for item in items:
        if item.switch in on and item.switch is not None:
            yield item.switch
            if isinstance(item, Loop):
                yield from _heard(item.inside, on)
