"""The cables of a board with the boxes that they lead to, numbered as on the wiring sheet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

from sigsim.board.inside import boards_inside
from sigsim.board.laying import Laying
from sigsim.board.relaid import layings
from sigsim.decide.sheet import connections
from sigsim.layout.model import Socket

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sigsim.board.model import Board
    from sigsim.board.wiring import Run as Wired
    from sigsim.decide.sheet import Connection
    from sigsim.items.cable import Cable

    Edge: TypeAlias = Literal["entry", "exit"]


@dataclass(frozen=True)
class Link:
    """One cable of a board.

    Attributes
    ----------
    connection : of the wiring sheet
    wired : the cable of the wired chain
    laying : the layout of the file that has the cable, None without one
    edge : where it comes onto the board of that layout, or leaves it; None for what does neither
    """

    connection: Connection
    wired: Wired
    laying: Laying | None
    edge: Edge | None

    @property
    def cable(self) -> Cable:
        """The cable as the file has it: what the layout says the length of still has none."""
        return self.wired.cable

    @property
    def begin(self) -> Socket | None:
        """Where it is plugged in, None for what is no thing of a layout."""
        return self.wired.begin.socket

    @property
    def end(self) -> Socket | None:
        """Where it ends, None for what is no thing of a layout."""
        return self.wired.end.socket

    @property
    def number(self) -> int:
        """The number of the connection on the wiring sheet."""
        return self.connection.number

    @property
    def from_file(self) -> bool:
        """Whether the file gives its length."""
        return self.cable.lays is None

    @property
    def pair(self) -> tuple[Socket, Socket] | None:
        """The sockets between which it runs on its board; None where an end stands nowhere."""
        if self.begin is None or self.end is None:
            return None
        placed = self.stands(self.begin) and self.stands(self.end)
        return (self.begin, self.end) if placed else None

    @property
    def on_board(self) -> Socket | None:
        """Of a lead, what it is plugged into on the board; None where that stands nowhere."""
        socket = {"entry": self.end, "exit": self.begin, None: None}[self.edge]
        return socket if socket is not None and self.stands(socket) else None

    def stands(self, socket: Socket) -> bool:
        """Return whether a socket is somewhere on the board of its layout."""
        return self.laying is not None and self.laying.floor.jack(socket) is not None


def links(board: Board) -> Iterator[Link]:
    """Yield every cable of a board in the order of the wiring sheet.

    Parameters
    ----------
    board : with a layout, or with a board inside that has one
    """
    doors = {id(held.loop.lays): held.loop.loop for held in boards_inside(board.listed)}
    cables = [one for one in connections(board) if one.cable is not None]
    wired = [run for run in board.runs if run.made is not None]
    for connection, run in zip(cables, wired, strict=True):
        laying = run.lays if isinstance(run.lays, Laying) else None
        edge = None if laying is None else _edge(connection, run, doors.get(id(laying), ""))
        yield Link(connection, run, laying, edge)


def joined(board: Board) -> Iterator[tuple[int, str]]:
    """Yield the number of each connection that a box makes between two of its loops, and that box.

    Parameters
    ----------
    board : with a layout, or with a board inside that has one
    """
    floors = [laying.floor for laying in layings(board)]
    for one in connections(board):
        if one.cable is not None or (one.begin.at, one.end.at) != ("loop out", "loop in"):
            continue
        begin, end = Socket(one.begin.name, "out"), Socket(one.end.name, "in")
        for floor in floors:
            box = floor.box_of(begin.name)
            if box is not None and floor.joined(begin, end):
                yield one.number, box


def _edge(connection: Connection, run: Wired, door: str) -> Edge | None:
    """Return how a cable comes to a board or leaves it; `door` is the loop that holds the board."""
    begin, end = run.begin.socket, run.end.socket
    if connection.side is not None:
        return None
    if begin is not None and (begin.name, begin.side) == (door, "send"):
        return "entry"
    if end is not None and (end.name, end.side) == (door, "return"):
        return "exit"
    if connection.begin.at == "instrument":
        return "entry"
    return "exit" if connection.end.at == "destination" else None
