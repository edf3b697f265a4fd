"""What a layout says: every run with the length to take, what is wrong, and what it costs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from sigsim.board.inside import boards_inside
from sigsim.decide.layout.links import Ground, links
from sigsim.decide.limits import refuse_beyond
from sigsim.decide.loss.report import loss_report
from sigsim.layout.checks import overhangs, overlaps
from sigsim.physics.arrays import scalar

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from sigsim.board.laying import Laying, Why
    from sigsim.board.model import Board
    from sigsim.decide.layout.links import Link
    from sigsim.decide.loss.report import StateReport
    from sigsim.layout.checks import Overhang
    from sigsim.layout.floor import Floor, Way

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
    def from_file(self) -> bool:
        """Whether the file gives its length."""
        return self.link.cable.lays is None

    @property
    def leads(self) -> bool:
        """Whether it comes to a board, leaves one or hangs at the side, so that it has no run."""
        return self.link.side is not None or self.link.lead is not None

    @property
    def left_over(self) -> float | None:
        """How much longer it is than its run [m], None where one of the two is not there."""
        if self.run is None or self.length is None:
            return None
        return float(self.length) - self.run

    @property
    def too_short(self) -> float:
        """By how much it is too short [m], 0 where it is not known to be."""
        if self.on_board is not None and self.length is not None:
            short = self.on_board - float(self.length)
        else:
            short = -(self.left_over or 0.0)
        return short if short > SAME_M else 0.0

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
    runs : the cables that run on it, the leads that come and go with them
    overlaps : names of boxes that stand in each other
    overhangs : which hang over an edge, and by how much
    """

    laying: Laying
    floor: Floor
    file: str
    runs: tuple[Run, ...]
    overlaps: tuple[tuple[str, str], ...]
    overhangs: tuple[Overhang, ...]

    @property
    def between(self) -> tuple[Run, ...]:
        """The cables that lie between two of its boxes, also those for which there is no way."""
        return tuple(one for one in self.runs if one.link.ground is not None)


@dataclass(frozen=True)
class LayoutReport:
    """What `layout` answers of one board.

    Attributes
    ----------
    board : the board
    runs : all its cables, in the order of the chain
    standing : its layout and those of boards inside it
    worst : of all combinations; None where a length is missing
    """

    board: Board
    runs: tuple[Run, ...]
    standing: tuple[Standing, ...]
    worst: StateReport | None

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
    """Return what the layouts of a board and of the boards inside it say.

    Parameters
    ----------
    board : it may lack lengths that its layout cannot give
    """
    refuse_beyond(board, "layout")
    found = tuple(_runs(board))
    lacks = any(one.length is None for one in found)
    worst = None if lacks else loss_report(board, [board.state(())]).worst
    standing = tuple(_standing(board, found))
    return LayoutReport(board, found, standing, worst)


def _runs(board: Board) -> Iterator[Run]:
    wiring = {id(board.wiring), *(id(held.loop.wiring) for held in boards_inside(board.listed))}
    for link in links(board):
        ground = link.ground
        if ground is None or ground.laying is None:
            yield _without_run(link)
            continue
        begin, end = link.begin.socket, link.end.socket
        assert begin is not None and end is not None, "a link on a ground has both"
        taken = ground.laying.taken(link.cable.cable, begin, end)
        if taken.why == "joined" and id(link.cable) in wiring:
            continue  # the box that has both loops is the connection
        length, why = taken.length, taken.why
        if link.cable.lays is None:
            length = scalar(link.cable.length)
            why = "" if taken.run is not None else why
        way = ground.laying.floor.way(begin, end) if taken.run is not None else None
        yield Run(link, way, taken.run, length, why)


def _without_run(link: Link) -> Run:
    length = None if link.cable.lays is not None else scalar(link.cable.length)
    why: Why = "no place" if length is None else ""
    ground, socket, edge = link.lead or (None, None, "")
    if ground is None or socket is None or ground.laying is None:
        return Run(link, None, None, length, why)
    floor = ground.laying.floor
    point = floor.entry if edge == "entry" else floor.exit
    way = None if point is None else floor.lead_way(point, socket)
    return Run(link, None, None, length, why, None if way is None else way.length, way)


def _standing(board: Board, found: Sequence[Run]) -> Iterator[Standing]:
    """Yield the board's own layout, then those of the boards inside that have things in the way."""
    grounds: dict[int, Ground] = {}
    if board.laying is not None:
        grounds[id(board.laying)] = Ground(board.laying)
    for one in found:
        for end in (one.link.begin, one.link.end):
            if end.ground.laying is not None:
                grounds.setdefault(id(end.ground.laying), end.ground)
    for key, ground in grounds.items():
        laying = ground.laying
        assert laying is not None, "only layouts were kept"
        floor = laying.floor
        mine = tuple(one for one in found if _is_on(one, key))
        yield Standing(laying, floor, ground.file, mine, overlaps(floor), overhangs(floor))


def _is_on(one: Run, key: int) -> bool:
    """Whether a cable lies on the board of a layout, be it with a part of it."""
    if one.link.ground is not None:
        return id(one.link.ground.laying) == key
    lead = one.link.lead
    return one.lead_way is not None and lead is not None and id(lead[0].laying) == key
