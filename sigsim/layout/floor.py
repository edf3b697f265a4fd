"""A board from above: outlines, jacks, and the ways of cables between them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

from sigsim.layout.exact import metres, point, spot, whole
from sigsim.layout.jacks import jack_at
from sigsim.layout.placing import on_edge, placed
from sigsim.layout.ways import Plugged, between, length_of, plugged

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from sigsim.layout.exact import Rect, Spot
    from sigsim.layout.jacks import At
    from sigsim.layout.model import Layout, Point, Socket


class Outline(NamedTuple):
    """Where a box stands.

    Attributes
    ----------
    x, y : of its near left corner [m]
    width, depth : [m]
    """

    x: float
    y: float
    width: float
    depth: float


class Jack(NamedTuple):
    """A jack of a box.

    Attributes
    ----------
    x, y : where it is [m]
    dx, dy : straight out of it: one of them is 1 or -1, the other 0
    """

    x: float
    y: float
    dx: int
    dy: int


@dataclass(frozen=True)
class Way:
    """The line a cable takes.

    Attributes
    ----------
    points : its corners from jack to jack, these among them [m]; neighbours differ in x or in y
    length : of it, without slack [m]
    tight : the boxes at whose plug there is less room than a plug is long
    """

    points: tuple[Point, ...]
    length: float
    tight: tuple[str, ...] = ()


class Floor:
    """A board from above.

    Parameters
    ----------
    layout : where things stand
    """

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self._plugs: dict[Socket, Plugged | None] = {}
        self._ways: dict[tuple[Socket | Spot, Socket], Way | None] = {}

    @cached_property
    def rects(self) -> Mapping[str, Rect]:
        """The outlines of all boxes that stand somewhere [nm]."""
        return placed(self.layout)

    @cached_property
    def outlines(self) -> Mapping[str, Outline]:
        """The outlines of all boxes that stand somewhere."""
        return {
            name: Outline(*map(metres, (left, near, right - left, back - near)))
            for name, (left, near, right, back) in self.rects.items()
        }

    @cached_property
    def entry(self) -> Point | None:
        """Where the lead comes in [m], None where the file does not say."""
        return on_edge(self.layout, self.layout.entry)

    @cached_property
    def exit(self) -> Point | None:
        """Where the lead goes out [m], None where the file does not say."""
        return on_edge(self.layout, self.layout.exit)

    def box_of(self, name: str) -> str | None:
        """Return the box that has a loop, or that is a stage; None for what stands nowhere.

        Parameters
        ----------
        name : of a stage or a loop
        """
        box = self._having.get(name, name)
        return box if box in self.rects else None

    def joined(self, begin: Socket | None, end: Socket | None) -> bool:
        """Return whether a box joins two of its loops itself, so that no cable is between them.

        Parameters
        ----------
        begin, end : in the order of the signal
        """
        if begin is None or end is None or begin.name == end.name:
            return False
        box = self._having.get(begin.name)
        outside = (begin.side, end.side) == ("out", "in")
        return outside and box is not None and box == self._having.get(end.name)

    def jack(self, socket: Socket) -> Jack | None:
        """Return where a jack is, None where it stands nowhere.

        Parameters
        ----------
        socket : "in" and "out" of a loop are those of its box; "send" and "return" are its own
        """
        at = self._at(socket)
        return None if at is None else Jack(*point(at.spot), *at.out)

    def way(self, begin: Socket, end: Socket) -> Way | None:
        """Return the way from jack to jack; None where there is none or an end stands nowhere.

        Parameters
        ----------
        begin, end : of the cable
        """
        if (begin, end) not in self._ways:
            plug = self._plugged(begin)
            self._ways[begin, end] = None if plug is None else self._found(plug, begin.name, end)
        return self._ways[begin, end]

    def lead_way(self, edge_point: Point | None, socket: Socket) -> Way | None:
        """Return the part of a lead that lies on the board; None where there is none.

        Parameters
        ----------
        edge_point : where it comes in or goes out, at which the way begins [m]
        socket : the input of the first box or the output of the last, where it ends
        """
        if edge_point is None:
            return None
        begin = spot(edge_point)
        if (begin, socket) not in self._ways:
            self._ways[begin, socket] = self._found(begin, None, socket)
        return self._ways[begin, socket]

    @cached_property
    def _having(self) -> Mapping[str, str]:
        """The boxes that have loops, by loop."""
        return {loop: name for name, box in self.layout.boxes.items() for loop in box.loops}

    @cached_property
    def _all(self) -> Sequence[Rect]:
        return tuple(self.rects.values())

    def _at(self, socket: Socket) -> At | None:
        box = self.box_of(socket.name)
        return None if box is None else jack_at(self.layout.boxes[box], self.rects[box], socket)

    def _plugged(self, socket: Socket) -> Plugged | None:
        if socket not in self._plugs:
            at, length = self._at(socket), whole(self.layout.plug_length)
            self._plugs[socket] = None if at is None else plugged(at, self._all, length)
        return self._plugs[socket]

    def _found(self, begin: Plugged | Spot, name: str | None, last: Socket) -> Way | None:
        end = self._plugged(last)
        corners = None if end is None else between(self._all, begin, end)
        if end is None or corners is None:
            return None
        first = name if isinstance(begin, Plugged) and begin.tight else None
        named = (first, last.name if end.tight else None)
        boxes = dict.fromkeys(self.box_of(name) for name in named if name is not None)
        return Way(
            tuple(map(point, corners)),
            metres(length_of(corners)),
            tuple(box for box in boxes if box is not None),
        )
