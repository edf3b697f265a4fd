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
from sigsim.physics.arrays import scalar

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.wiring import Run
    from sigsim.layout.floor import Way
    from sigsim.layout.model import Layout, Point, Socket

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
            yield Caution("box-overhangs", hanging.name, {"edge": hanging.edge, "by": hanging.by})
        yield from _unused(board, laying.layout)
    tight = dict.fromkeys(box for run in board.runs for box in _tight(run))
    for box in tight:
        yield Caution("no-room-for-plug", box)
    for run in board.runs:
        yield from _too_short(run)
    yield from _lead_too_short(board)


def _unused(board: Board, layout: Layout) -> Iterator[Caution]:
    names = {*board.stage_names()}
    for box in layout.boxes.values():
        if names.isdisjoint(box.loops or (box.name,)):
            yield Caution("box-unused", box.name)


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
    short = taken.run - scalar(run.made.length)
    if short > _LEAST_M:
        yield Caution(
            "cable-too-short",
            run.cable.cable,
            {"begin": spot_words(run.begin), "end": spot_words(run.end), "short": short},
        )


def _lead_too_short(board: Board) -> Iterator[Caution]:
    for run, on_board in _leads(board):
        short = (on_board.length or 0.0) - scalar(run.cable.length)
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
    length = None if way is None else way.length
    yield run, OnBoard(run.cable.cable, leads_in, socket.name, length)
