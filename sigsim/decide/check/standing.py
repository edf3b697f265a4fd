"""What to look at where boxes stand: cables that are too short, plugs without room, overlaps."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from sigsim.board.lacking import spot_words, taken_of
from sigsim.board.laying import Laying
from sigsim.board.relaid import layings
from sigsim.decide.check.caution import Caution
from sigsim.layout.checks import overhangs, overlaps
from sigsim.layout.facing import facing
from sigsim.physics.arrays import scalar

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.wiring import Run
    from sigsim.layout.floor import Way
    from sigsim.layout.model import Point, Socket

# A cable is not too short by less [m].
_LEAST_M: Final = 1e-6


@dataclass(frozen=True)
class OnBoard:
    """The part of a lead that lies on the board.

    Attributes
    ----------
    cable : its name
    leads_in : whether it comes from the instrument; else it goes out to the destination
    box : the first box, or the last
    length : of that part [m]; None where there is no way
    """

    cable: str
    leads_in: bool
    box: str
    length: float | None


def standing_cautions(board: Board) -> Iterator[Caution]:
    """Look at where the boxes of a board and of the boards inside it stand."""
    if not board.has_layout:
        return
    for laying in layings(board):
        for one, other in overlaps(laying.floor):
            yield Caution("boxes-overlap", one, {"other": other})
        for hanging in overhangs(laying.floor):
            by = laying.measured(hanging.by)
            yield Caution("box-overhangs", hanging.name, {"edge": hanging.edge, "by": by})
        yield from _facing(board, laying)
    tight = dict.fromkeys(box for run in board.runs for box in _tight(run))
    for box in tight:
        yield Caution("no-room-for-plug", box)
    for run in board.runs:
        yield from _too_short(run)
    yield from _lead_too_short(board)


def _facing(board: Board, laying: Laying) -> Iterator[Caution]:
    """Look at plugs that face each other."""
    mine = [run for run in board.runs if run.lays is laying and run.made is not None]
    sockets = [end.socket for run in mine for end in (run.begin, run.end) if end.socket is not None]
    if pairs := facing(laying.floor, sockets):
        values = {
            "pairs": tuple(one._replace(gap=laying.measured(one.gap)) for one in pairs),
            "plug": laying.layout.plug_length,
        }
        yield Caution("plugs-face-each-other", pairs[0].one, values)


def without_cables(board: Board) -> tuple[str, ...]:
    """Return what stands on a board though the chain does not go through it: a supply."""
    names = {*board.stage_names()} if board.has_layout else set[str]()
    boxes = [box for laying in layings(board) for box in laying.layout.boxes.values()]
    return tuple(box.name for box in boxes if names.isdisjoint(box.loops or (box.name,)))


def _way(run: Run) -> Way | None:
    begin, end = run.begin.socket, run.end.socket
    if not isinstance(run.lays, Laying) or run.made is None or begin is None or end is None:
        return None
    return run.lays.floor.way(begin, end)


def _tight(run: Run) -> tuple[str, ...]:
    way = _way(run)
    return () if way is None else way.tight


def _too_short(run: Run) -> Iterator[Caution]:
    """Look at a cable that has a length of its own."""
    taken = taken_of(run)
    if run.cable.lays is not None or run.made is None or taken is None or taken.run is None:
        return
    assert isinstance(run.lays, Laying), "it told the run"
    short = run.lays.measured(taken.run - scalar(run.made.length))
    if short > _LEAST_M:
        yield Caution(
            "cable-too-short",
            run.cable.cable,
            {"begin": spot_words(run.begin), "end": spot_words(run.end), "short": short},
        )


def _lead_too_short(board: Board) -> Iterator[Caution]:
    for run, on_board in _leads(board):
        short = (on_board.length or 0.0) - scalar(run.cable.length)
        if board.laying is not None:
            short = board.laying.measured(short)
        if short > _LEAST_M:
            edge = "the edge of the board"
            ends = (
                (edge, spot_words(run.end)) if on_board.leads_in else (spot_words(run.begin), edge)
            )
            values = {"begin": ends[0], "end": ends[1], "short": short}
            yield Caution("cable-too-short", run.cable.cable, values)


def leads_on_board(board: Board) -> tuple[OnBoard, ...]:
    """Return what of the leads lies on the board, if the file says where they cross its edge."""
    return tuple(on_board for _, on_board in _leads(board))


def _leads(board: Board) -> Iterator[tuple[Run, OnBoard]]:
    if board.laying is None:
        return
    floor = board.laying.floor
    for run in board.runs:
        if run.begin.kind == "instrument" and run.end.socket is not None:
            yield from _lead(board.laying, run, floor.entry, run.end.socket, leads_in=True)
        elif run.end.kind == "destination" and run.begin.socket is not None:
            yield from _lead(board.laying, run, floor.exit, run.begin.socket, leads_in=False)


def _lead(
    laying: Laying, run: Run, edge: Point | None, socket: Socket, *, leads_in: bool
) -> Iterator[tuple[Run, OnBoard]]:
    if edge is None or laying.floor.jack(socket) is None:
        return
    way = laying.floor.lead_way(edge, socket)
    length = None if way is None else laying.measured(way.length)
    yield run, OnBoard(run.cable.cable, leads_in, socket.name, length)
