"""What hangs on each source of a board with everything off, for the wiring sheet."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

from sigsim.items.cable import Cable
from sigsim.items.split import Branch
from sigsim.items.tap import Tap
from sigsim.physics.arrays import scalar
from sigsim.states.path import Segment, path, segments

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.items.destination import Destination
    from sigsim.items.split import Meeting
    from sigsim.physics.arrays import Value

    At: TypeAlias = Literal[
        "instrument",
        "stage",
        "loop in",
        "loop out",
        "send",
        "return",
        "joint",
        "tap",
        "far end",
        "split",
        "destination",
    ]


@dataclass(frozen=True)
class Point:
    """One end of a connection.

    Attributes
    ----------
    at : what it is: a loop has an input and an output outside, and a send and a return inside
    name : of the stage, loop, tap, split or destination
    """

    at: At
    name: str = ""


@dataclass(frozen=True)
class Run:
    """A passive run with everything off: from the instrument or an isolator to the next.

    Attributes
    ----------
    begin, end : what it lies between
    winding : capacitance of the pickup [F]
    cables : of all cables with their plugs, those of taps and of other ways included [F]
    boxes : of the wiring in what is off, and of what taps and other ways lead to [F]
    input : of the input at the end [F]
    """

    begin: Point
    end: Point
    winding: float
    cables: float
    boxes: float
    input: float

    @property
    def total(self) -> float:
        """The sum [F], as in the hand check."""
        return self.winding + self.cables + self.boxes + self.input


def runs(heard: Sequence[Board]) -> Iterator[Run]:
    """Yield what hangs on each source, once, whichever way one follows."""
    seen: set[int | None] = set()
    for board in heard:
        for segment in segments(path(board.chain, ())):
            begin = None if segment.begin is None else id(segment.begin.item)
            if begin not in seen:
                yield _run(board, segment)
            seen.add(begin)


def _run(board: Board, segment: Segment) -> Run:
    begin, end = segment.begin, segment.end
    winding = board.instrument.winding()[1] if begin is None else 0.0
    parts = list(_parts(segment.run))
    cables = [value for is_cable, value in parts if is_cable]
    boxes = [value for is_cable, value in parts if not is_cable]
    if end is None:
        load, last = board.end.input_capacitance, end_point(board.end)
    else:
        load, last = end.item.load_capacitance(end.on), Point("stage", end.item.label)
    return Run(
        Point("instrument") if begin is None else Point("stage", begin.item.label),
        last,
        scalar(winding),
        sum(map(scalar, cables), 0.0),
        sum(map(scalar, boxes), 0.0),
        scalar(load),
    )


def _parts(run: Iterable[Meeting]) -> Iterator[tuple[bool, Value]]:
    """Yield the capacitances [F] of a run, those of other ways too; whether each is a cable's."""
    for item, on in run:
        if isinstance(item, Branch):
            yield from _parts(item.run)
            inside = sum(one.shunt_capacitance(is_on) for one, is_on in item.run)
            yield False, item.shunt_capacitance(on) - inside
        elif isinstance(item, Tap):
            yield True, item.cable.shunt_capacitance()
            yield False, item.input_capacitance
        else:
            yield isinstance(item, Cable), item.shunt_capacitance(on)


def end_point(end: Destination) -> Point:
    """Return the point at which a way ends."""
    return Point("destination", end.name)
