"""What a layout says: every run with the length to take, what is wrong, and what it costs."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from sigsim.board.inside import boards_inside
from sigsim.board.laying import Laying
from sigsim.decide.layout.links import joined, links
from sigsim.decide.limits import refuse_beyond
from sigsim.decide.loss.report import loss_report
from sigsim.layout.checks import overhangs, overlaps
from sigsim.layout.facing import facing
from sigsim.physics.arrays import scalar

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from sigsim.board.laying import Why
    from sigsim.board.model import Board
    from sigsim.decide.layout.links import Link
    from sigsim.decide.loss.report import StateReport
    from sigsim.layout.checks import Overhang
    from sigsim.layout.facing import Facing
    from sigsim.layout.floor import Floor, Way
    from sigsim.layout.model import Point

# Less than this is no cable too short and no way shorter [m]: a tenth of a millimetre.
SAME_M: Final = 1e-4


@dataclass(frozen=True)
class Run:
    """One cable, and what the layout says of it.

    Attributes
    ----------
    link : what it connects, with its number on the wiring sheet
    way : from jack to jack, None where there is none
    run : its length with the slack [m], None where there is none
    length : to take, or what the file gives [m]; None where it cannot be told
    why : there is no run, or no length
    on_board : of a lead, how much of it lies on the board, without slack [m]; None where that is
        not told
    lead_way : along which it lies there
    """

    link: Link
    way: Way | None
    run: float | None
    length: float | None
    why: Why
    on_board: float | None = None
    lead_way: Way | None = None

    @property
    def on_this(self) -> bool:
        """Whether it lies on the board of its layout, be it with a part of it."""
        return self.link.pair is not None or self.lead_way is not None

    @property
    def left_over(self) -> float | None:
        """How much longer it is than its run [m], None where one of the two is not there."""
        if self.run is None or self.length is None:
            return None
        return self._measured(float(self.length) - self.run)

    @property
    def too_short(self) -> float:
        """By how much it is too short [m], 0 where it is not known to be."""
        if self.on_board is not None and self.length is not None:
            short = self.on_board - float(self.length)
        else:
            short = -(self.left_over or 0.0)
        return self._measured(short) if short > SAME_M else 0.0

    def _measured(self, length: float) -> float:
        return length if self.link.laying is None else self.link.laying.measured(length)

    @property
    def tight(self) -> tuple[str, ...]:
        """The boxes at which there is no room for its plug."""
        way = self.way or self.lead_way
        return () if way is None else way.tight


@dataclass(frozen=True)
class Standing:
    """The boxes of one layout.

    Attributes
    ----------
    laying : the layout of a file, and its lengths
    floor : the layout on the floor
    file : of the board inside, empty for the board's own
    loop : that holds the board inside, empty for the board's own
    runs : the cables that run on it, the leads that come and go with them
    overlaps : names of boxes that stand in each other
    overhangs : which hang over an edge, and by how much
    facing : plugs that face each other with too little room for both
    """

    laying: Laying
    floor: Floor
    file: str
    loop: str
    runs: tuple[Run, ...]
    overlaps: tuple[tuple[str, str], ...]
    overhangs: tuple[Overhang, ...]
    facing: tuple[Facing, ...]

    @property
    def between(self) -> tuple[Run, ...]:
        """The cables that lie between two of its boxes, also those for which there is no way."""
        return tuple(one for one in self.runs if one.link.pair is not None)


@dataclass(frozen=True)
class LayoutReport:
    """What `layout` answers of one board.

    Attributes
    ----------
    board : the board
    runs : all its cables, in the order of the chain
    standing : its layout and those of boards inside it
    worst : of all combinations; None where a length is missing or nobody asked
    joined : numbers of the sheet that are no cables, because a box joins its loops; and that box
    """

    board: Board
    runs: tuple[Run, ...]
    standing: tuple[Standing, ...]
    worst: StateReport | None
    joined: tuple[tuple[int, str], ...] = ()

    @property
    def total(self) -> float:
        """All runs together [m]."""
        return sum(one.run for one in self.runs if one.run is not None)

    @property
    def lacking(self) -> tuple[Run, ...]:
        """The cables that have no length."""
        return tuple(one for one in self.runs if one.length is None)

    @property
    def short(self) -> tuple[Run, ...]:
        """The cables that do not reach."""
        return tuple(one for one in self.runs if one.too_short)

    @property
    def own(self) -> Standing | None:
        """The layout of the board's own file."""
        return next((one for one in self.standing if not one.file), None)


def layout_report(board: Board) -> LayoutReport:
    """Return what the layouts of a board and of the boards inside it say, and what it loses.

    Parameters
    ----------
    board : it may lack lengths that its layout cannot give
    """
    refuse_beyond(board, "layout")
    laid = laid_out(board)
    worst = None if laid.lacking else loss_report(board, [board.state(())]).worst
    return replace(laid, worst=worst)


def laid_out(board: Board) -> LayoutReport:
    """Return what the layouts of a board and of the boards inside it say, without a loss."""
    found = tuple(map(_run, links(board)))
    return LayoutReport(board, found, tuple(_standing(board, found)), None, tuple(joined(board)))


def _run(link: Link) -> Run:
    length = scalar(link.cable.length) if link.from_file else None
    taken = link.laying.taken(link.cable.cable, link.begin, link.end) if link.laying else None
    if taken is None or taken.run is None:
        # A cable with a length needs no run, but between two boxes it has none for a reason.
        why = taken.why if taken and (length is None or link.pair) else ""
        point = _edge_point(link)
        if point is None or link.laying is None or link.on_board is None:
            return Run(link, None, None, length, why)
        way = link.laying.floor.lead_way(point, link.on_board)
        why = why or ("no way" if way is None else "")
        lies = None if way is None else link.laying.measured(way.length)
        return Run(link, None, None, length, why, lies, way)
    assert link.laying is not None, "it told the run"
    run = link.laying.measured(taken.run)
    way = None if link.pair is None else link.laying.floor.way(*link.pair)
    if length is not None:
        return Run(link, way, run, length, "")
    return Run(link, way, run, taken.length if link.cable.spec.sold else run, taken.why)


def _edge_point(link: Link) -> Point | None:
    """Return where a lead comes onto its board or leaves it [m], None where nothing says so."""
    if link.laying is None or link.edge is None:
        return None
    floor = link.laying.floor
    return floor.entry if link.edge == "entry" else floor.exit


def _standing(board: Board, found: Sequence[Run]) -> Iterator[Standing]:
    """Yield the board's own layout, then those of the boards inside, the outer before the inner."""
    held = [(one.loop.lays, one.file, one.loop.loop) for one in boards_inside(board.listed)]
    for laying, file, loop in ((board.laying, "", ""), *held):
        if isinstance(laying, Laying):
            floor = laying.floor
            mine = tuple(one for one in found if one.link.laying is laying and one.on_this)
            over = tuple(o._replace(by=laying.measured(o.by)) for o in overhangs(floor))
            yield Standing(
                laying, floor, file, loop, mine, overlaps(floor), over, _faced(mine, laying)
            )


def _faced(found: Sequence[Run], laying: Laying) -> tuple[Facing, ...]:
    """Return the plugs of some cables of one layout that face each other."""
    ends = (run.link.pair or (run.link.on_board,) for run in found)
    sockets = [socket for pair in ends for socket in pair if socket is not None]
    return tuple(
        one._replace(gap=laying.measured(one.gap)) for one in facing(laying.floor, sockets)
    )
