"""How long the cables of a board file are that follow from where its boxes stand."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from itertools import product
from typing import TYPE_CHECKING, Final, Literal, TypeAlias

from sigsim.layout.model import Socket
from sigsim.quantities import is_imperial, on_a_tape
from sigsim.units import Written

if TYPE_CHECKING:
    from sigsim.items.cable import Cable, Lays
    from sigsim.layout.floor import Floor
    from sigsim.layout.model import Layout

# Why a layout cannot give a length: an end that stands nowhere, no way between boxes, a run that
# is longer than all lengths that are sold, or two loops that one box joins without a cable.
Why: TypeAlias = Literal["", "no place", "no way", "too long", "joined"]

# Cables kept with their lengths: what is one thing is solved once. Draws make new ones each time.
_MOST_KEPT: Final = 2_000


@dataclass(frozen=True)
class Taken:
    """What a layout says of one cable.

    Attributes
    ----------
    run : from jack to jack, slack included [m]; None where there is none
    length : to take [m]; None where it cannot be told
    why : there is no length, empty where there is one
    """

    run: float | None
    length: float | None
    why: Why = ""


@dataclass(frozen=True)
class Evenly:
    """Boxes that change places, so that each cable between two of them counts alike.

    Attributes
    ----------
    sockets : of these boxes, and where the loop around them begins and ends
    length : of each cable between two of them [m]
    """

    sockets: frozenset[Socket]
    length: float


@dataclass(eq=False)
class _Kept:
    """What was found for one layout, whatever else is asked of it."""

    floor: Floor | None = None
    usual: dict[str, float] = field(default_factory=dict)
    made: dict[tuple[int, float], tuple[Cable, Cable]] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class Laying:
    """The layout of one board file, with the lengths in which its cables are sold.

    Attributes
    ----------
    layout : where things stand
    sold : ready-made lengths [m] by cable, as the outermost board calls it; none where it is cut
    put : boxes that were put in and stand nowhere yet, with the length of the cable [m] that was
        there: those on both of their sides are as long
    evenly : boxes that change places, None for none
    """

    layout: Layout
    sold: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    put: Mapping[str, float] = field(default_factory=dict)
    evenly: Evenly | None = None
    kept: _Kept = field(default_factory=_Kept, repr=False)

    @property
    def floor(self) -> Floor:
        """The board with its boxes, seen from above."""
        if self.kept.floor is None:
            from sigsim.layout.floor import Floor

            self.kept.floor = Floor(self.layout)
        return self.kept.floor

    def measured(self, length: float) -> float:
        """Return a length on the board [m] that is shown in inches where the board is written so.

        Parameters
        ----------
        length : [m]
        """
        imperial = all(map(is_imperial, self.layout.size))
        return Written(length, on_a_tape(length)) if imperial else float(length)

    def laid(self, cable: Cable, begin: Socket | None, end: Socket | None) -> Cable | None:
        """Return a cable with its length, None where two loops are joined inside one box.

        One with a length of its own keeps it. Where no length can be told it is that of other runs
        on this board in the mean: who reads a board has asked `taken` for all that is in it.
        """
        told = self._told(begin, end)
        if told is None and begin and end and self.floor.joined(begin, end):
            return None
        if cable.lays is None:
            return cable
        length = self.taken(cable.cable, begin, end).length if told is None else told
        return self._made(cable, self._usual(cable.cable) if length is None else length)

    def _told(self, begin: Socket | None, end: Socket | None) -> float | None:
        """Return a length [m] that does not come from where things stand, None for none."""
        if self.evenly is not None and {begin, end} <= self.evenly.sockets:
            return self.evenly.length
        put = (self.put[one.name] for one in (begin, end) if one and one.name in self.put)
        return next(put, None)

    def _made(self, cable: Cable, length: float) -> Cable:
        kept, key = self.kept.made, (id(cable), length)
        if key not in kept:
            if len(kept) >= _MOST_KEPT:
                kept.clear()
            # The cable is kept beside what is made of it, so that nothing else gets its identity.
            kept[key] = cable, replace(cable, length=length, lays=None)
        return kept[key][1]

    def taken(self, cable: str, begin: Socket | None, end: Socket | None) -> Taken:
        """Return what a cable between two places has to be.

        Parameters
        ----------
        cable : its name, as the outermost board calls it
        begin, end : of it; None for what stands nowhere, such as a joint of two cables
        """
        told = self._told(begin, end)
        if told is not None:
            return Taken(None, told)
        floor = self.floor
        if begin is None or end is None or not (floor.jack(begin) and floor.jack(end)):
            return Taken(None, None, "no place")
        if floor.joined(begin, end):
            return Taken(None, None, "joined")
        way = floor.way(begin, end)
        return Taken(None, None, "no way") if way is None else self._cut(cable, way.length)

    def _cut(self, cable: str, way: float) -> Taken:
        from sigsim.layout.sold import taken

        run = way + self.layout.slack
        length = taken(run, self.sold.get(cable, ()))
        return Taken(run, length, "too long" if length is None else "")

    def _usual(self, cable: str) -> float:
        """Return the mean [m] of what a cable would be from each output to each input."""
        if cable not in self.kept.usual:
            ends = list(self._sockets())
            found = [
                length
                for begin, end in product(ends, ends)
                if begin.name != end.name and begin.side == "out" and end.side == "in"
                if (length := self.taken(cable, begin, end).length) is not None
            ]
            self.kept.usual[cable] = sum(found) / len(found) if found else 0.0
        return self.kept.usual[cable]

    def _sockets(self) -> Iterator[Socket]:
        for box in self.layout.boxes.values():
            for name in box.loops or (box.name,):
                yield from (Socket(name, "in"), Socket(name, "out"))


@dataclass(frozen=True, eq=False)
class Then:
    """Knows lengths as something else does, and changes each cable that has got its length.

    Attributes
    ----------
    lays : knows the lengths
    change : what becomes of a cable with its length
    """

    lays: Lays
    change: Callable[[Cable], Cable]
    made: dict[int, tuple[Cable, Cable]] = field(default_factory=dict, repr=False)

    def laid(self, cable: Cable, begin: Socket | None, end: Socket | None) -> Cable | None:
        """Return the changed cable, None where none belongs; what is one cable stays one."""
        found = self.lays.laid(cable, begin, end)
        if found is None:
            return None
        if id(found) not in self.made:
            self.made[id(found)] = found, self.change(found)
        return self.made[id(found)][1]
