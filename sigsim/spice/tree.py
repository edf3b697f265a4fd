"""The tree of a board as a circuit: the chain, and every way that a split leaves it by.

A board that is listened at the end of a split is a chain turned round elsewhere; here it stays as
the file has it and only the node that is listened at is another, so that a simulator that solves
the result checks the turning too.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from sigsim.board.ends import MAIN
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.spice.emit import Span, describe, destination, emit
from sigsim.spice.emit_instrument import instrument
from sigsim.spice.network import GROUND, OUT
from sigsim.spice.text import safe
from sigsim.states.path import Met, reference_path

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import On
    from sigsim.items.base import Item
    from sigsim.items.destination import Destination
    from sigsim.metrics import Reference
    from sigsim.spice.emit_line import LineStyle
    from sigsim.spice.network import Network


@dataclass(frozen=True)
class Way:
    """The items up to one end, with the ways that leave them.

    Attributes
    ----------
    at : the split whose way it is, as `Board.at` names it
    items : in order; a split is the way that it opens
    end : where it leads
    """

    at: str
    items: tuple[Met | Way, ...]
    end: Destination

    @property
    def size(self) -> int:
        """How many items and ends it has in all."""
        return 1 + sum(1 + item.size if isinstance(item, Way) else 1 for item in self.items)

    def leads_to(self, at: str) -> bool:
        """Whether an end is its own, or that of a way that leaves it."""
        return at == self.at or any(
            isinstance(item, Way) and item.leads_to(at) for item in self.items
        )


@dataclass(frozen=True)
class _Step:
    """An item, a split with the steps of its way, or an end, ready to be written.

    Attributes
    ----------
    number : under which it stands
    here : the node before it
    what : the item with whether it is on, the way of a split, or what is at an end
    steps : of that way
    read : the node at which an end reads the signal
    """

    number: str
    here: int
    what: Met | Way | Destination
    steps: tuple[_Step, ...] = ()
    read: int = GROUND


def of_board(board: Board, on: On) -> Way:
    """Return a board in a state: all that is in the circuit, as the file has it."""
    return Way(MAIN, tuple(_met(board.laid, on)), board.destination)


def of_reference(board: Board, on: On, reference: Reference) -> Way:
    """Return the reference of a state: one way, that to the end where one listens."""
    return Way(board.at, tuple(reference_path(board, on, reference)), board.end)


def _met(items: Iterable[Item], on: On) -> Iterator[Met | Way]:
    for item in items:
        if isinstance(item, Split):
            yield Way(item.split, tuple(_met(item.inside, on)), item.destination)
        elif isinstance(item, Loop) and item.loop in on:
            yield from _met(item.inside, on)
        else:
            yield Met(item, item.switch is None or item.switch in on)


def write(net: Network, board: Board, way: Way, style: LineStyle) -> dict[str, int]:
    """Write all items of a way; the node before each is named after it.

    Parameters
    ----------
    net : the circuit in the making
    board : whose instrument drives it, and at which end one listens
    way : from the instrument to the end of the chain
    style : how cables are written

    Returns
    -------
    the node of each end that is in the circuit, as `Board.at` names it
    """
    writer = _Writer(net, board.at, style, max(2, len(str(way.size))))
    steps = writer.planned(way)
    net.item("0" * writer.width, "instrument", "instrument")
    net.comment(f"{'0' * writer.width} instrument, 1 V in each of its sources")
    instrument(board.instrument, net, steps[0].here)
    writer.written(way, steps)
    if board.at not in writer.ends:
        net.comment(f"The way to {safe(board.end.name)} leads through a loop that is out.")
        net.wire(net.named(OUT), GROUND)
    return writer.ends


class _Writer:
    """First all nodes in order, then all parts between them."""

    def __init__(self, net: Network, at: str, style: LineStyle, width: int) -> None:
        self.net, self.at, self.style, self.width = net, at, style, width
        self.ends: dict[str, int] = {}
        self.count = 0

    def planned(self, way: Way) -> tuple[_Step, ...]:
        """Return the steps of a way with their numbers and nodes."""
        return (*map(self._planned, way.items), self._end(way))

    def _planned(self, item: Met | Way) -> _Step:
        number = self._named(item.at if isinstance(item, Way) else item.item.label, "item")
        here = self.net.node("in")
        return _Step(number, here, item, self.planned(item) if isinstance(item, Way) else ())

    def _end(self, way: Way) -> _Step:
        number = self._named(way.end.name, "destination")
        heard, behind = way.at == self.at, bool(way.end.input.stopper)
        read = self.net.named(OUT) if heard else self.net.node("read" if behind else "in")
        self.ends[way.at] = read
        return _Step(number, self.net.node("in") if behind else read, way.end, (), read)

    def _named(self, label: str, otherwise: str) -> str:
        self.count += 1
        number = f"{self.count:0{self.width}}"
        self.net.item(number, label, otherwise)
        return number

    def written(self, way: Way, steps: tuple[_Step, ...]) -> None:
        """Write the parts of a way."""
        heard = way.leads_to(self.at)
        for step, after in pairwise(steps):
            # Behind the split that leads to the end where one listens it is another way.
            heard = heard and not (isinstance(step.what, Way) and step.what.leads_to(self.at))
            self._written(step, after.here, heard)
        end = steps[-1]
        assert not isinstance(end.what, Met | Way), "a way ends at a destination"
        self.net.item(end.number, "destination", "destination")
        self.net.comment(f"{end.number} {safe(end.what.name)}")
        destination(end.what, self.net, end.here, end.read)

    def _written(self, step: _Step, there: int, heard: bool) -> None:
        net, what = self.net, step.what
        if isinstance(what, Way):
            net.comment(f"{step.number} {safe(what.at)}: split, to {safe(what.end.name)}")
            net.wire(step.here, there)
            net.wire(step.here, step.steps[0].here)
            self.written(what, step.steps)
        elif isinstance(what, Met):
            net.item(step.number, what.item.label, "item")
            net.comment(f"{step.number} {safe(what.item.label)}: {describe(*what)}")
            emit(what.item, Span(net, step.here, there, what.on, self.style, heard))
