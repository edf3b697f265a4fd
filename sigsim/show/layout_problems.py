"""What is wrong with a layout, in sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sigsim.board.lacking import lacking
from sigsim.errors import shown_path
from sigsim.quantities import length_text
from sigsim.show.check_layout import facing_words
from sigsim.show.document import Paragraph
from sigsim.show.layout_words import end_name
from sigsim.show.plan_jacks import loop_words
from sigsim.show.render.text import listed, plain

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from sigsim.board.model import Board
    from sigsim.decide.layout.report import LayoutReport, Run, Standing
    from sigsim.show.document import Block

_EDGES = {"left": "left edge", "right": "right edge", "near": "near edge", "back": "back edge"}


def problems(report: LayoutReport) -> Iterator[Block]:
    """Yield sentences for all that is wrong or must be known, none where there is nothing."""
    said = [*problem_lines(report, report.runs, report.standing), *_in_boxes(report)]
    if said:
        yield Paragraph(tuple(said), apart=True)


def problem_lines(
    report: LayoutReport, runs: Sequence[Run], standing: Sequence[Standing]
) -> Iterator[str]:
    """Yield a sentence for each thing that is wrong.

    Parameters
    ----------
    report : of the board
    runs, standing : of it, about which something is asked
    """
    yield from (_without_length(one, report.board) for one in runs if one.length is None)
    yield from (_too_short(one) for one in runs if one.too_short)
    yield from (_no_way(one) for one in runs if one.length is not None and one.why == "no way")
    yield from (line for one in runs for line in _tight(one))
    yield from (line for one in standing for line in _standing(one))


def slack_lines(report: LayoutReport) -> Iterator[str]:
    """Yield a line where cables that follow from a layout have nothing for bending."""
    mine = [run for one in report.standing if not one.laying.layout.slack for run in one.between]
    if any(run.run is not None and not run.link.from_file for run in mine):
        yield "No slack: every cable is exactly its run; slack in [layout] adds some for bending."


def _in_boxes(report: LayoutReport) -> Iterator[str]:
    """Say which box has the jacks of some loops, and where it joins two of them itself."""
    for one in report.standing:
        for name, box in one.laying.layout.boxes.items():
            if box.loops:
                loops = [f"'{plain(loop, 30)}'" for loop in box.loops]
                said = loop_words(box, loops)
                yield f"'{plain(name, 30)}' has the jacks of loops, in the drawing {said}."
    for name in dict.fromkeys(name for _, name in report.joined):
        mine = [str(number) for number, box in report.joined if box == name]
        are = "is no cable" if len(mine) == 1 else "are no cables"
        yield f"{' and '.join(mine)} {are}: '{plain(name, 30)}' joins its loops there itself."


def _between(one: Run) -> str:
    begin, end = (
        plain(end_name(e), 30) for e in (one.link.connection.begin, one.link.connection.end)
    )
    return f"{one.link.number}, from {begin} to {end}"


def _without_length(one: Run, board: Board) -> str:
    if one.why == "joined":
        cure = "leave it out, or give it a length"
        return f"{_between(one)}: these two loops are joined inside their box; {cure}."
    if one.why == "too long":
        return (
            f"{_between(one)}: its run of {length_text(one.run or 0.0)} is longer than all lengths "
            f"in which '{plain(one.link.cable.cable, 24)}' is sold, "
            f"{length_text(max(one.link.cable.spec.sold))} at most."
        )
    found = next(lacking([one.link.wired]), None)
    if found is None:
        return f"{_between(one)}: it lies on no layout, so it needs a length."
    what, cure = found.said
    file = "" if found.file == board.file else f" of {plain(shown_path(found.file), 40)}"
    return f"{_between(one)}: {what}{file}; {cure}."


def _too_short(one: Run) -> str:
    short = length_text(one.too_short)
    if one.run is None:
        there = f"{length_text(one.on_board or 0.0)} of it lie on the board"
    else:
        there = f"its run is {length_text(one.run)}"
    has = length_text(one.link.cable.length if one.link.from_file else one.length)
    return f"{_between(one)}: {short} too short; it is {has} long, and {there}."


def _no_way(one: Run) -> str:
    return (
        f"{_between(one)}: there is no way between the boxes for it; its length is taken as given."
    )


def _tight(one: Run) -> Iterator[str]:
    if one.tight:
        names = listed(list(dict.fromkeys(one.tight)))
        yield f"{_between(one)}: there is no room for its plug at {names}."


def _standing(standing: Standing) -> Iterator[str]:
    rows = {name for name, box in standing.laying.layout.boxes.items() if box.place is None}
    for first, second in standing.overlaps:
        yield f"'{plain(first, 30)}' and '{plain(second, 30)}' stand in each other."
    for over in standing.overhangs:
        edge = _EDGES.get(over.edge, over.edge)
        side = "width" if over.edge in ("left", "right") else "depth"
        cure = f"; a place of its own, or a board of more {side}, helps" * (over.name in rows)
        yield f"'{plain(over.name, 30)}' hangs over the {edge} by {length_text(over.by)}{cure}."
    if standing.facing:
        text = facing_words(standing.facing, standing.laying.layout.plug_length)
        yield f"{text[:1].upper()}{text[1:]}"
