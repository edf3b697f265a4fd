"""From the items that a file lists to the chain as it is wired."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final, NamedTuple

from sigsim.items.cable import Cable
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.items.tap import Tap
from sigsim.layout.model import Side, Socket

if TYPE_CHECKING:
    from sigsim.items.base import Item
    from sigsim.items.cable import Lays


class Spot(NamedTuple):
    """Where a cable begins or ends.

    Attributes
    ----------
    socket : it is plugged into; None for what stands nowhere
    name : of what is there, empty where it goes without one
    kind : what that is: "loop", "instrument", "destination", "joint" of two cables, or "far end" of
        a side way; empty for a stage
    """

    socket: Socket | None
    name: str = ""
    kind: str = ""


INSTRUMENT: Final = Spot(None, kind="instrument")
DESTINATION: Final = Spot(None, kind="destination")
_JOINT: Final = Spot(None, kind="joint")


@dataclass(frozen=True)
class Run:
    """One cable of a wired chain, and between what it lies.

    Attributes
    ----------
    cable : as the file has it
    made : as it is wired; None where no wiring belongs, because both ends are joined in one box
    begin, end : where it is plugged in
    listed : whether the chain names it; else it is wiring
    lays : knows the lengths that follow from the layout of the file that says so, None without one
    """

    cable: Cable
    made: Cable | None
    begin: Spot
    end: Spot
    listed: bool
    lays: Lays | None


def wired(
    items: Sequence[Item],
    wiring: Cable | None,
    *,
    bare: bool = False,
    lays: Lays | None = None,
    begin: Socket | None = None,
) -> tuple[Item, ...]:
    """Return items with the wiring cable wherever two neighbours have none between them.

    Parameters
    ----------
    items : as listed in the file
    wiring : the cable to put in, None for a direct connection
    bare : whether it is wanted before the first of them
    lays : knows what wiring the layout of the file leaves out, None without one
    begin : what the first of them follows

    Returns
    -------
    the items; what is in a loop is wired as well, and at both of its ends, what is in a split at
    its beginning only. Every cable has its length
    """
    put = _Put(wiring, lays)
    return tuple(Walk().along(items, put, put, Spot(begin), DESTINATION, bare=bare))


def has_layout(items: Sequence[Item]) -> bool:
    """Return whether a board in one of the loops has a layout."""
    return any(
        (isinstance(item, Loop) and item.lays is not None) or has_layout(item.inside)
        for item in items
        if isinstance(item, Loop | Split)
    )


class _Put(NamedTuple):
    """What is put between two things without a cable, and what knows where none belongs."""

    cable: Cable | None
    lays: Lays | None


@dataclass
class Walk:
    """Goes along a chain from plug to plug.

    Attributes
    ----------
    runs : all cables that it met, in order; None where nobody asks for them
    """

    runs: list[Run] | None = field(default=None)

    def whole(
        self, items: Sequence[Item], wiring: Cable | None, lays: Lays | None
    ) -> tuple[Item, ...]:
        """Return a chain from the instrument to the destination as it is wired."""
        put = _Put(wiring, lays)
        return tuple(self.along(items, put, put, INSTRUMENT, DESTINATION, bare=False))

    def along(
        self,
        items: Sequence[Item],
        put: _Put,
        first: _Put,
        begin: Spot,
        end: Spot,
        *,
        bare: bool,
    ) -> Iterator[Item]:
        """Yield wired items; before the first that is no side way stands a cable of its own."""
        at: Item | Spot = begin
        for index, (item, at_bare) in enumerate(zip(items, points(items, bare=bare), strict=False)):
            if isinstance(item, Tap):
                yield self._tap(item, at, put.lays)
                continue
            if isinstance(item, Split):
                yield self._split(item, at, put)
                continue
            if isinstance(item, Cable):
                yield self._named(item, at, items[index + 1 :], end, put.lays)
                at = _JOINT
            else:
                if at_bare and first.cable is not None:
                    made = self._wiring(first, at, item)
                    if made is not None:
                        yield made
                yield self._loop(item, put) if isinstance(item, Loop) else item
                at = item
            first = put

    def _named(
        self,
        cable: Cable,
        at: Item | Spot,
        behind: Sequence[Item],
        end: Spot,
        lays: Lays | None,
    ) -> Cable:
        """Return a cable of the chain with its length; it ends at what is next behind it."""
        if cable.lays is None and self.runs is None:
            return cable
        begin, end, knows = _out(at), _ahead(behind, end), cable.lays
        # Who named a cable where a box joins its loops is told so: it must not vanish before.
        laid = None if knows is None else knows.laid(cable, begin.socket, end.socket)
        made = laid or cable
        self._note(Run(cable, made, begin, end, True, knows or lays))
        return made

    def _wiring(self, put: _Put, at: Item | Spot, end: Item | Spot) -> Cable | None:
        """Return the wiring between two things, None where they are joined."""
        assert put.cable is not None, "there is something to put in"
        knows = put.cable.lays or put.lays
        if knows is None and self.runs is None:
            return put.cable
        begin, end = _out(at), _in(end)
        made = put.cable if knows is None else knows.laid(put.cable, begin.socket, end.socket)
        self._note(Run(put.cable, made, begin, end, False, knows))
        return made

    def _note(self, run: Run) -> None:
        if self.runs is not None:
            self.runs.append(run)

    def _tap(self, tap: Tap, at: Item | Spot, lays: Lays | None) -> Tap:
        """Return a tap with the length of its cable, whose far end stands nowhere."""
        made = self._named(tap.cable, at, (), Spot(None, tap.tap, "far end"), lays)
        return tap if made is tap.cable else replace(tap, cable=made)

    def _split(self, split: Split, at: Item | Spot, put: _Put) -> Split:
        """Return a split with its wiring; what is first in it begins where the split hangs."""
        far = Spot(None, split.split, "far end")
        inside = self.along(split.inside, put, put, _out(at), far, bare=True)
        return replace(split, inside=tuple(inside))

    def _loop(self, loop: Loop, put: _Put) -> Loop:
        """Return a loop with its wiring: a board inside has its own, but for its ends."""
        own = _Put(loop.wiring, loop.lays) if loop.board else put
        send, back = _spot(loop, "send"), _spot(loop, "return")
        inside = [*self.along(loop.inside, own, put, send, back, bare=True)]
        *_, ends_bare = points(loop.inside, bare=True)
        if put.cable is not None and ends_bare:
            made = self._wiring(put, _behind(loop.inside, send), back)
            inside += [] if made is None else [made]
        return replace(loop, inside=tuple(inside))


def _spot(item: Item, side: Side) -> Spot:
    return Spot(Socket(item.label, side), item.label, "loop" if isinstance(item, Loop) else "")


def _out(at: Item | Spot) -> Spot:
    return at if isinstance(at, Spot) else _spot(at, "out")


def _in(at: Item | Spot) -> Spot:
    return at if isinstance(at, Spot) else _spot(at, "in")


def _ahead(behind: Sequence[Item], end: Spot) -> Spot:
    """Return where a cable ends: at the input of what comes next, side ways looked through."""
    for item in behind:
        if not isinstance(item, Tap | Split):
            return _JOINT if isinstance(item, Cable) else _spot(item, "in")
    return end


def _behind(items: Sequence[Item], begin: Spot) -> Item | Spot:
    """Return where what follows some items begins: at the output of the last of them."""
    for item in reversed(items):
        if not isinstance(item, Tap | Split):
            return _JOINT if isinstance(item, Cable) else item
    return begin


def points(items: Sequence[Item], *, bare: bool = False) -> Iterator[bool]:
    """Yield for the point before each item, and behind all, whether no cable follows a stage there.

    Parameters
    ----------
    items : as listed in the file
    bare : whether a stage comes right before them
    """
    for item in items:
        yield bare
        if not isinstance(item, Tap | Split):
            bare = not isinstance(item, Cable)
    yield bare
