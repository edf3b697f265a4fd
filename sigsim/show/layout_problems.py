"""What is wrong with a layout, in sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sigsim.show.document import Paragraph
from sigsim.show.layout_words import end_name
from sigsim.show.lengths import length_text
from sigsim.show.render.text import listed, plain

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sigsim.decide.layout.report import LayoutReport, Run, Standing
    from sigsim.show.document import Block

_EDGES = {"left": "left edge", "right": "right edge", "near": "near edge", "back": "back edge"}


def problems(report: LayoutReport) -> Iterator[Block]:
    """Yield sentences for all that is wrong or must be known, none where there is nothing."""
    said = [
        *(_without_length(one) for one in report.lacking),
        *(_too_short(one) for one in report.short),
        *(_no_way(one) for one in report.runs if one.length is not None and one.why == "no way"),
        *(line for one in report.runs for line in _tight(one)),
        *(line for standing in report.standing for line in _standing(standing)),
    ]
    if said:
        yield Paragraph(tuple(said), apart=True)


def _between(one: Run) -> str:
    begin, end = (
        plain(end_name(e), 30) for e in (one.link.connection.begin, one.link.connection.end)
    )
    return f"{one.link.number}, from {begin} to {end}"


def _without_length(one: Run) -> str:
    sold = one.link.cable.spec.sold
    why = {
        "joined": "these two loops are joined inside their box; leave it out, or give it a length",
        "no way": "there is no way between the boxes for it; move them, or give it a length",
        "too long": (
            f"its run of {length_text(one.run or 0.0)} is longer than all lengths in which "
            f"'{plain(one.link.cable.cable, 24)}' is sold"
            + (f", {length_text(float(max(sold)))} at most" if sold else "")
        ),
    }.get(one.why, "it does not lie between two boxes of one layout, so it needs a length")
    return f"{_between(one)}: {why}."


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
    for first, second in standing.overlaps:
        yield f"'{plain(first, 30)}' and '{plain(second, 30)}' stand in each other."
    for over in standing.overhangs:
        edge = _EDGES.get(over.edge, over.edge)
        yield f"'{plain(over.name, 30)}' hangs over the {edge} by {length_text(over.by)}."
