"""The board with a buffer in it, written into a file of its own."""

from __future__ import annotations

import shlex
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from sigsim.board import edit_file
from sigsim.board.edit import free_name, inserted
from sigsim.board.inside import board_of_place, refuse_elsewhere
from sigsim.board.put_in import put_in, stands_nowhere
from sigsim.board.reader import parse_board
from sigsim.board.relaid import length_beside
from sigsim.cli.copied import Written
from sigsim.cli.options import unfit
from sigsim.cli.output import write_file
from sigsim.errors import shown_path
from sigsim.show.places import between, places
from sigsim.show.render.text import plain
from sigsim.text import escaped

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.decide.buffer.report import BufferReport, Placement


def check_place(place: int | None, write: str | None) -> None:
    """Refuse the number of a place where nothing is written.

    Raises
    ------
    SigsimError : there is a number and no file
    """
    if place is not None and write is None:
        what = "a place is chosen for the file that is written"
        raise unfit("--place", place, what, f"--write FILE --place {place}")


def write_buffered(
    report: BufferReport, source: str, path: str, place: int | None, force: bool
) -> Written:
    """Write the board with buffers put into its text, if they are advised or chosen.

    Parameters
    ----------
    report : from `buffer_report`
    source : the text of the board file
    path : of the file
    place : the number of the place in the tables, None for the advised one
    force : whether an existing file may be overwritten

    Raises
    ------
    SigsimError : there is no place of that number
    OutputError : the file exists and `force` is not set, or it cannot be written
    """
    chosen = report.advised if place is None else _numbered(report, place)
    if chosen is None:
        return _nothing(report, path)
    text, names = _text(report, source, chosen)
    write_file(path, text, force)
    end = f"'{plain(report.board.end.name, 30)}'"
    put = [
        (name, between(gap, "the instrument", end))
        for name, gap in zip(names, chosen.gaps, strict=True)
    ]
    what = " and ".join(f"'{name}' ({report.part.part}) {where}" for name, where in put)
    stages = [{"stage": name, "place": where} for name, where in put]
    return Written(
        f"Written: {shown_path(path)}, this board with {what}."
        f"{stands_nowhere(report.board, names)} "
        f"Next: sigsim loss {shown_path(path)}{_listened(report.board)}",
        {"file": path, "stages": stages, "why_not": None},
    )


def _listened(board: Board) -> str:
    """Return the option that asks at the same end of a board, with a blank before it."""
    return f" --at {shlex.quote(plain(board.at, 80))}" if board.at else ""


def _numbered(report: BufferReport, number: int) -> Placement:
    listed = (*report.placements, *report.inside)
    if number > len(listed):
        what = "there is no place of this number"
        accepted = f"1 to {len(listed)}, as --every numbers them" if listed else "no place at all"
        raise unfit("--place", number, what, accepted)
    return listed[number - 1]


def _nothing(report: BufferReport, path: str) -> Written:
    why = "no buffer is needed" if not report.needed else "no place in the chain helps"
    more = "; --place N writes one all the same" if report.placements or report.inside else ""
    return Written(
        f"Not written: {shown_path(path)}, because {why}{more}.",
        {"file": None, "stages": [], "why_not": why},
    )


def _names(report: BufferReport, count: int) -> list[str]:
    """Return a name of its own for each buffer, as they follow each other in the file."""
    board, names = report.board, list[str]()
    while len(names) < count:
        names.append(free_name(board, report.part.stage))
        board = inserted(board, (0,), replace(report.part, stage=names[-1]))
    return names


def _text(report: BufferReport, text: str, chosen: Placement) -> tuple[str, list[str]]:
    """Return the board file with the buffers in it and a title of its own, and their names."""
    board, names = report.board, _names(report, len(chosen.gaps))
    places_ = sorted((gap.place for gap in chosen.gaps), reverse=True)
    # From the last on, so that those before it keep their places.
    for where, name in zip(places_, reversed(names), strict=True):
        held = board_of_place(report.board, where)
        refuse_elsewhere(held, f"a buffer in '{held.loop.loop if held else ''}'", where="--write")
        keys = {"stage": name, "part": report.part.part, "always_on": True}
        box = replace(report.part, stage=name)
        # As long as when it is tried alone, whatever else is put in.
        length = length_beside(inserted(report.board, where, box), name)
        text = put_in(text, board, where, box, keys, "put in by sigsim buffer", length)
        board = parse_board(text, board.file).heard_at(board.at)
    number = {1: "a buffer", 2: "two buffers", 3: "three buffers"}[len(chosen.gaps)]
    title = report.board.title or escaped(Path(report.board.file).stem)
    return edit_file.titled(text, f"{title}, with {number} {places(chosen.gaps)}"), names
