"""The wiring sheet: all connections of a board, what to cut and buy, what a scene switches on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

from sigsim.board.ends import MAIN
from sigsim.board.inside import Held, board_of_cable, held_by
from sigsim.decide.limits import refuse_beyond
from sigsim.decide.loss.report import LossReport, loss_report
from sigsim.decide.measured import MeasuredThing, measured
from sigsim.decide.power.report import PowerReport, PowerUntold, power_where_told
from sigsim.decide.purchases import Purchase, purchases
from sigsim.decide.sheet_runs import Point, Run, end_point, runs
from sigsim.items.cable import Cable
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.items.tap import Tap
from sigsim.physics.arrays import scalar
from sigsim.states.path import branch

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import On
    from sigsim.items.base import Item

    Switched: TypeAlias = Literal["on", "off", "always", "hidden"]


@dataclass(frozen=True)
class Connection:
    """One connection, in the order of the chain.

    Attributes
    ----------
    number : from 1
    begin, end : what it connects
    cable : its name under `[cables]`, None where two things are joined without a cable
    part : the part the cable's figures came from, empty for none
    length : [m]
    plugs : how many
    capacitance : of the cable with its plugs [F]
    so_far : on the line from the last isolator to the end of this connection [F], everything off;
        inside a loop as if this loop were in
    sees_pickup : whether no isolator lies between a pickup and the end of this connection
    side : the tap whose cable this is, None for what the signal passes through
    measured : the day on which the cable was measured, empty for none told
    board : the file of the board inside that it is part of, empty for the board's own
    by_layout : whether the length follows from where the boxes stand
    """

    number: int
    begin: Point
    end: Point
    cable: str | None
    part: str
    length: float
    plugs: int
    capacitance: float
    so_far: float
    sees_pickup: bool
    side: Tap | None = None
    measured: str = ""
    board: str = ""
    by_layout: bool = False


@dataclass(frozen=True)
class Sheet:
    """All that is needed to wire a board.

    Attributes
    ----------
    board : the board
    connections : in the order of the chain, a loop's or split's contents where it stands
    runs : the passive runs with everything off
    purchases : by cable, in the order of the chain
    switches : for every stage and loop its position in every scene, scenes by name
    losses : what is lost with everything off and at worst
    others : the same at the ends of the splits
    measured : all whose figures the file says were measured
    power : what feeds it, None where the file has no supplies
    """

    board: Board
    connections: tuple[Connection, ...]
    runs: tuple[Run, ...]
    purchases: tuple[Purchase, ...]
    switches: dict[str, dict[str, Switched]]
    losses: LossReport
    others: tuple[LossReport, ...] = ()
    measured: tuple[MeasuredThing, ...] = ()
    power: PowerReport | PowerUntold | None = None


def sheet(board: Board, spare: float = 0.1) -> Sheet:
    """Return the wiring sheet of a board.

    Parameters
    ----------
    board : the board
    spare : share of the length to add when buying, 0.1 for 10 %
    """
    refuse_beyond(board, "sheet")
    main, *others = (board.heard_at(end) for end in board.ends)
    board = main
    return Sheet(
        board,
        connections(board),
        tuple(runs((main, *others))),
        tuple(purchases(board, spare)),
        _switches(board),
        loss_report(board, [board.state(())]),
        tuple(loss_report(one, [one.state(())]) for one in others),
        measured(board),
        power_where_told(board),
    )


def connections(board: Board) -> tuple[Connection, ...]:
    """Return all connections of a board, in the order of the chain and numbered from 1."""
    return tuple(_Wiring(board.heard_at(MAIN)).connections())


class _Wiring:
    """Follows the chain from plug to plug, with all that hangs on the line, everything off."""

    def __init__(self, board: Board) -> None:
        self.board = board
        self.held: Held | None = None
        self.at = Point("instrument")
        self.pending: Cable | None = None
        self.count = 0
        self.so_far = 0.0
        self.pickup = board.instrument.has_coil
        self.laid = {id(run.made) for run in board.runs if run.cable.lays is not None}

    def connections(self) -> Iterator[Connection]:
        """Yield all connections."""
        yield from self._through(self.board.chain)
        yield self._connect(end_point(self.board.destination))

    def _through(self, items: Sequence[Item]) -> Iterator[Connection]:
        for item in items:
            if isinstance(item, Cable):
                if self.pending is not None:
                    yield self._connect(Point("joint"))
                self.pending = item
            elif isinstance(item, Tap):
                yield from self._tap(item)
            elif isinstance(item, Split):
                yield from self._split(item)
            elif isinstance(item, Loop):
                yield from self._loop(item)
            else:
                yield self._connect(Point("stage", item.label))
                self._pass(item, item.switch is None)

    def _connect(self, end: Point) -> Connection:
        """Return the connection from where the line stands, by the cable that waits if any does."""
        cable, self.pending = self.pending, None
        begin, self.at = self.at, end
        return self._connection(begin, end, cable)

    def _connection(
        self, begin: Point, end: Point, cable: Cable | None, side: Tap | None = None
    ) -> Connection:
        self.count += 1
        capacitance = 0.0 if cable is None else scalar(cable.shunt_capacitance())
        self.so_far += capacitance
        return Connection(
            self.count,
            begin,
            end,
            None if cable is None else cable.cable,
            "" if cable is None else cable.spec.part,
            0.0 if cable is None else scalar(cable.length),
            0 if cable is None else 2,
            capacitance,
            self.so_far,
            self.pickup,
            side,
            "" if cable is None else cable.spec.measured or cable.measured,
            self._board(cable),
            id(cable) in self.laid,
        )

    def _board(self, cable: Cable | None) -> str:
        """Return the file of the board that a connection is part of, empty for the board's own."""
        held = self.held if cable is None else board_of_cable(self.board, cable.cable)
        return "" if held is None else held.file

    def _pass(self, item: Item, on: bool) -> None:
        """Go through a stage that is off, or always on."""
        if item.isolates(on):
            self.so_far, self.pickup = 0.0, False
        else:
            self.so_far += scalar(item.shunt_capacitance(on))

    def _tap(self, tap: Tap) -> Iterator[Connection]:
        """A tap sits on the output of what it follows, or where the cable before it ends."""
        if self.pending is not None:
            yield self._connect(Point("tap", tap.tap))
        self.so_far += scalar(tap.input_capacitance)
        yield self._connection(self.at, Point("far end", tap.tap), tap.cable, tap)

    def _split(self, split: Split) -> Iterator[Connection]:
        """A split stands like a tap; both of its ways begin there."""
        yield self._connect(Point("split", split.split))
        begin, so_far, pickup = self.at, self.so_far, self.pickup
        yield from self._through(split.inside)
        if not split.destination.open:
            yield self._connect(end_point(split.destination))
        elif self.pending is not None:
            yield self._connect(Point("far end", split.split))
        hangs = branch(split, ()).shunt_capacitance(True)
        self.at, self.so_far, self.pickup = begin, so_far + scalar(hangs), pickup

    def _loop(self, loop: Loop) -> Iterator[Connection]:
        yield self._connect(Point("loop in", loop.loop))
        outside = self.so_far, self.pickup
        # Inside counts as if this loop were in; behind it the loop is out again.
        self.at = Point("send", loop.loop)
        around, self.held = self.held, held_by(loop, self.held)
        yield from self._through(loop.inside)
        yield self._connect(Point("return", loop.loop))
        self.held = around
        self.so_far, self.pickup = outside
        self.so_far += scalar(loop.shunt_capacitance(False))
        self.at = Point("loop out", loop.loop)


def _switches(board: Board) -> dict[str, dict[str, Switched]]:
    """Return the position of every stage and loop in every scene."""
    states = {name: board.scene(name).on for name in board.scenes}
    return {
        item.label: {name: _position(item, on, board.heard(on)) for name, on in states.items()}
        for item in board.items()
        if not isinstance(item, Cable | Tap | Split)
    }


def _position(item: Item, on: On, heard: On) -> Switched:
    if item.switch is None:
        return "always"
    if item.switch not in on:
        return "off"
    return "on" if item.switch in heard else "hidden"
