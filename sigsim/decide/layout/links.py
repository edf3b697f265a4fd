"""The connections of a board with the places they lead to, numbered as on the wiring sheet."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple, TypeAlias

from sigsim.board.inside import Held, held_by
from sigsim.board.laying import Laying
from sigsim.board.wiring import wired
from sigsim.decide.sheet_runs import Point, end_point
from sigsim.items.cable import Cable
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.items.tap import Tap
from sigsim.layout.model import Socket

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.items.base import Item

    Edge: TypeAlias = Literal["", "entry", "exit"]


@dataclass(frozen=True)
class Ground:
    """The layout of one file, its own or that of a board inside.

    Attributes
    ----------
    laying : what it says, None for a file without a layout
    file : of the board inside, empty for the board's own
    """

    laying: Laying | None
    file: str = ""


class End(NamedTuple):
    """One end of a connection.

    Attributes
    ----------
    point : as the wiring sheet calls it
    socket : that the plug goes into, None for what is no thing of a layout
    ground : of the file that the thing belongs to
    """

    point: Point
    socket: Socket | None
    ground: Ground


@dataclass(frozen=True)
class Link:
    """One cable of a board between the places it leads to.

    Attributes
    ----------
    number : of the connection on the wiring sheet
    begin, end : what it connects
    cable : as the file has it, so that one without a length still has none
    side : the tap whose cable this is, None for what the signal passes through
    """

    number: int
    begin: End
    end: End
    cable: Cable
    side: Tap | None = None

    @property
    def ground(self) -> Ground | None:
        """The one layout on which it can run from end to end, None where there is none."""
        one = self.begin.ground is self.end.ground and self.begin.ground.laying is not None
        placed = self.begin.socket is not None and self.end.socket is not None
        return self.begin.ground if one and placed else None

    @property
    def lead(self) -> tuple[Ground, Socket, Edge] | None:
        """The layout onto which it leads, or which it leaves, with what it is plugged into there.

        None for a cable that stays on one board, or that has nothing to do with any.
        """
        begin, end = self.begin, self.end
        if self.side is not None:
            return None
        if end.socket is not None and (begin.point.at == "instrument" or _inside(end, begin)):
            return end.ground, end.socket, "entry"
        if begin.socket is not None and (end.point.at == "destination" or _inside(begin, end)):
            return begin.ground, begin.socket, "exit"
        return None


def _inside(one: End, other: End) -> bool:
    """Whether one end belongs to a board inside that of the other."""
    away = one.ground is not other.ground and other.point.at in ("send", "return")
    return away and one.point.at not in ("send", "return")


def links(board: Board) -> tuple[Link, ...]:
    """Return every cable of a board, in the order and with the numbers of the wiring sheet."""
    return tuple(_Walk(board).links())


class _Walk:
    """Follows the chain from plug to plug as the wiring sheet does, and knows where things stand."""

    def __init__(self, board: Board) -> None:
        self.board = board
        self.count = 0
        self.at = End(Point("instrument"), None, Ground(board.laying))
        self.pending: Cable | None = None
        self.held: Held | None = None

    def links(self) -> Iterator[Link]:
        """Yield all cables."""
        board, ground = self.board, self.at.ground
        last = End(end_point(board.destination), None, ground)
        # Without lengths, so that each cable is seen as its file has it.
        yield from self._through(wired(board.with_lead(), board.wiring), last, ground)
        yield from self._connect(last)

    def _through(self, items: Sequence[Item], last: End, ground: Ground) -> Iterator[Link]:
        for index, item in enumerate(items):
            if isinstance(item, Cable):
                if self.pending is not None:
                    yield from self._connect(End(Point("joint"), None, ground))
                self.pending = item
            elif isinstance(item, Tap | Split):
                ahead = _ahead(items[index + 1 :], last, ground)
                if isinstance(item, Tap):
                    yield from self._tap(item, ahead, ground)
                else:
                    yield from self._split(item, ahead, ground)
            elif isinstance(item, Loop):
                yield from self._loop(item, ground)
            else:
                yield from self._connect(_end_of(item, "in", ground))
                self.at = _end_of(item, "out", ground)

    def _connect(self, end: End) -> Iterator[Link]:
        cable, self.pending = self.pending, None
        begin, self.at = self.at, end
        yield from self._link(begin, end, cable)

    def _link(
        self, begin: End, end: End, cable: Cable | None, side: Tap | None = None
    ) -> Iterator[Link]:
        self.count += 1
        if cable is not None:
            yield Link(self.count, begin, end, cable, side)

    def _tap(self, tap: Tap, ahead: Socket | None, ground: Ground) -> Iterator[Link]:
        """A Y is plugged into what follows, and what is behind it begins at no jack of a box."""
        if self.pending is not None:
            yield from self._connect(End(Point("tap", tap.tap), ahead, ground))
            self.at = self.at._replace(socket=None)
        far = End(Point("far end", tap.tap), None, ground)
        yield from self._link(self.at, far, tap.cable, tap)

    def _split(self, split: Split, ahead: Socket | None, ground: Ground) -> Iterator[Link]:
        """What a split leads to begins at the output before it, or at its Y behind a cable."""
        point = Point("split", split.split)
        before = self.at.socket if self.pending is None else None
        yield from self._connect(End(point, ahead, ground))
        begin = self.at = End(point, before, ground)
        far = End(end_point(split.destination), None, ground)
        yield from self._through(split.inside, far, ground)
        if not split.destination.open:
            yield from self._connect(far)
        elif self.pending is not None:
            yield from self._connect(far._replace(point=Point("far end", split.split)))
        self.at = begin

    def _loop(self, loop: Loop, ground: Ground) -> Iterator[Link]:
        yield from self._connect(End(Point("loop in", loop.loop), Socket(loop.loop, "in"), ground))
        around, self.held = self.held, held_by(loop, self.held)
        inner = ground
        if self.held is not around and self.held is not None:
            laying = loop.lays if isinstance(loop.lays, Laying) else None
            inner = Ground(laying, self.held.file)
        self.at = End(Point("send", loop.loop), Socket(loop.loop, "send"), ground)
        back = End(Point("return", loop.loop), Socket(loop.loop, "return"), ground)
        yield from self._through(loop.inside, back, inner)
        yield from self._connect(back)
        self.held = around
        self.at = End(Point("loop out", loop.loop), Socket(loop.loop, "out"), ground)


def _ahead(items: Sequence[Item], last: End, ground: Ground) -> Socket | None:
    """Return the socket into which the next cable behind taps and splits would go."""
    following = (item for item in items if not isinstance(item, Tap | Split))
    item = next(following, None)
    if item is None:
        return last.socket if last.ground is ground else None
    return None if isinstance(item, Cable) else Socket(item.label, "in")


def _end_of(item: Item, side: Literal["in", "out"], ground: Ground) -> End:
    return End(Point("stage", item.label), Socket(item.label, side), ground)
