"""A board as it was understood: what its file lists, and the wired chain that follows from it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, NoReturn, TypeAlias

from sigsim.board.changes import NO_CHANGES, Changes, Version
from sigsim.board.ends import MAIN, ends, lead_place, loops_around, marked, place_of_end, way_to
from sigsim.board.parts import OURS, Library
from sigsim.board.state import ALL_OFF, On, State, why_unswitched
from sigsim.board.wiring import Run, Walk, has_layout
from sigsim.errors import SigsimError, UnknownNameError, quote
from sigsim.items.cable import Cable, CableSpec
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.items.stage import ActiveStage
from sigsim.items.tap import Tap

if TYPE_CHECKING:
    from sigsim.board.lacking import Lacking
    from sigsim.board.laying import Laying
    from sigsim.items.base import Item
    from sigsim.items.destination import Destination
    from sigsim.items.feeding import Fed
    from sigsim.items.instrument import ActiveInstrument, PassiveInstrument
    from sigsim.items.supply import Supply

    Instrument: TypeAlias = PassiveInstrument | ActiveInstrument


@dataclass(frozen=True, kw_only=True)
class Board:
    """Instrument, chain and destination, with the scenes a player uses.

    Attributes
    ----------
    title : of the board, may be empty
    file : where it was read from
    instrument, destination : where the chain begins and ends
    listed : the items of the chain as the file lists them; a loop holds what it lists
    wiring : the cable that belongs between neighbours without one, None for none
    cables : the kinds of cable by name; those of a board in a loop as `LOOP: NAME`
    scenes : the names of what is on, by scene
    warnings : what is accepted but probably not meant
    at : the split at whose end one listens, empty for the destination of the chain
    files : that were read for it: its own, boards inside it, parts
    variants : the names of those that the file has
    versions : what each of these makes of it
    changes : the variants and values that it was read with
    supplies : what feeds its stages, by name; none of a board inside
    boxes : what has a table under `[boxes]` and draws a current, by name
    library : the parts that it can name
    laying : where its boxes stand and what lengths follow, None without a layout
    fed_at : the place in the file of what draws a current, by name
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
    at: str = MAIN
    files: tuple[str, ...] = ()
    variants: tuple[str, ...] = ()
    versions: tuple[Version, ...] = ()
    changes: Changes = NO_CHANGES
    supplies: Mapping[str, Supply] = field(default_factory=dict)
    boxes: Mapping[str, Fed] = field(default_factory=dict)
    library: Library = OURS
    laying: Laying | None = field(default=None, compare=False)
    fed_at: Mapping[str, str] = field(default_factory=dict, compare=False)

    @property
    def name(self) -> str:
        """The title, or the file's name without one; before it, what it was read with."""
        name = self.title or self.file
        return f"{self.changes.said}: {name}" if self.changes else name

    @cached_property
    def laid(self) -> tuple[Item, ...]:
        """All items in the order of the file, the wiring in place and the lead marked."""
        return self._walked[0]

    @property
    def has_layout(self) -> bool:
        """Whether a layout says how long cables are, its own or one of a board inside."""
        return self.laying is not None or has_layout(self.listed)

    @property
    def runs(self) -> tuple[Run, ...]:
        """All cables in the order of the file, each with what it lies between.

        None where no layout says how long any of them are.
        """
        return self._walked[1]

    @cached_property
    def _walked(self) -> tuple[tuple[Item, ...], tuple[Run, ...]]:
        """The wired items, and all cables among them."""
        runs: list[Run] | None = [] if self.has_layout else None
        items = Walk(runs).whole(self.with_lead(), self.wiring, self.laying)
        return items, tuple(runs or ())

    @cached_property
    def lacking(self) -> tuple[Lacking, ...]:
        """The cables to which no layout can give the length that the file leaves to it."""
        from sigsim.board.lacking import lacking

        return tuple(lacking(self.runs)) if self.has_layout else ()

    @cached_property
    def chain(self) -> tuple[Item, ...]:
        """All that the signal meets on its way to the end where one listens."""
        place = place_of_end(self.laid, self.at)
        return way_to(self.laid, place, self.destination)

    @property
    def end(self) -> Destination:
        """The destination at which one listens."""
        found = (split.destination for split in self.splits() if split.split == self.at)
        return next(found, self.destination) if self.at else self.destination

    def loops_out(self, on: On) -> tuple[str, ...]:
        """Return the loops around the end one listens at that are out, so that it is silent."""
        place = place_of_end(self.listed, self.at)
        return tuple(loop for loop in loops_around(self.listed, place) if loop not in on)

    def heard_at(self, end: str) -> Board:
        """Return the board listened at an end.

        Parameters
        ----------
        end : the name of a split, or that of its destination; empty, or the name of the
            chain's own destination, is that one

        Raises
        ------
        UnknownNameError : the board has no end of this name
        """
        at = end if end in self.ends else self._end_of(end)
        return self if at == self.at else replace(self, at=at)

    def _end_of(self, destination: str) -> str:
        """Return what `at` is for a destination's name."""
        if destination == self.destination.name:
            return MAIN
        splits = tuple(self.splits())
        found = [one.split for one in splits if one.destination.name == destination]
        if len(found) == 1:
            return found[0]
        ends_ = [end for split in splits for end in (split.split, split.destination.name)]
        known = tuple(dict.fromkeys((*ends_, self.destination.name)))
        error = UnknownNameError("end", destination, known)
        if not splits:
            what = "this board has no split, so that one end is all there is to listen at"
            error.problem = replace(error.problem, what=what)
        raise error.at(self.file)

    @property
    def ends(self) -> tuple[str, ...]:
        """What `at` can be: the destination of the chain, then the splits in order."""
        return (MAIN, *(split.split for split in self.splits()))

    def splits(self) -> Iterator[Split]:
        """Yield the splits in order, those inside others as well."""
        yield from ends(self.listed)

    def with_lead(self) -> tuple[Item, ...]:
        """Return the listed items with the instrument's lead marked."""
        return marked(self.listed, self.lead_place)

    @property
    def lead_place(self) -> tuple[int, ...] | None:
        """The place of the instrument's own lead, None without one."""
        return lead_place(self.listed, place_of_end(self.listed, self.at))

    @property
    def lead(self) -> Cable | None:
        """The instrument's own lead: the cable that comes first, None if there is none."""
        return next((i for i in self.chain if isinstance(i, Cable) and i.is_lead), None)

    def items(self) -> Iterator[Item]:
        """Yield every item in the order of the file, loops and splits before what is in them."""
        yield from _flatten(self.laid)

    def pieces(self, role: str | None = None) -> Iterator[Cable]:
        """Yield every piece of cable in order, those of taps included; `role` picks one name."""
        yield from (piece for piece in pieces_of(self.laid) if role in (None, piece.cable))

    def powered(self) -> Iterator[ActiveStage]:
        """Yield the powered stages."""
        yield from (item for item in self.items() if isinstance(item, ActiveStage))

    def switches(self) -> tuple[str, ...]:
        """Return the names of everything that can be switched, in chain order."""
        return tuple(item.switch for item in self.items() if item.switch is not None)

    def stage_names(self) -> tuple[str, ...]:
        """Return the names of all stages and loops, switchable or not."""
        return tuple(i.label for i in self.items() if not isinstance(i, Cable | Tap | Split))

    def item_names(self) -> tuple[str, ...]:
        """Return the names that no two things of the chain share: all but the cables'."""
        return tuple(i.label for i in self.items() if not isinstance(i, Cable))

    def heard(self, on: On) -> frozenset[str]:
        """Return `on` without what is inside a loop that is out."""
        return frozenset(_heard(self.laid, on))

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
        SigsimError : the name of a tap, a split or a cable, which have no switch
        """
        known = self.stage_names()
        for name in sorted(set(names) - set(known)):
            self.refuse_unswitched(name, where)
        return self.state(frozenset(names))

    def refuse_unswitched(self, name: str, where: str) -> NoReturn:
        """Say of a name that is no stage or loop what it is.

        Raises
        ------
        UnknownNameError : it is nothing of this board
        SigsimError : it is a tap, a split or a cable, which have no switch
        """
        why = why_unswitched(name, self.branches(), self.cables)
        if why is not None:
            raise SigsimError(why, where=where, found=quote(name))
        raise UnknownNameError("stage or loop", name, self.stage_names(), where=where)

    def branches(self) -> dict[str, str]:
        """Return what each tap and split is, by its name."""
        return {i.label: i.key for i in self.items() if isinstance(i, Tap | Split)}

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
        if isinstance(item, Loop | Split):
            yield from _flatten(item.inside)


def pieces_of(items: tuple[Item, ...]) -> Iterator[Cable]:
    """Yield every piece of cable among some items, those of taps, in loops and splits included."""
    for item in _flatten(items):
        piece = item.cable if isinstance(item, Tap) else item
        if isinstance(piece, Cable):
            yield piece


def _heard(items: tuple[Item, ...], on: On) -> Iterator[str]:
    for item in items:
        if isinstance(item, Split):
            yield from _heard(item.inside, on)
        elif item.switch in on and item.switch is not None:
            yield item.switch
            if isinstance(item, Loop):
                yield from _heard(item.inside, on)
