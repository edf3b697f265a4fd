"""What a cable of a layout is called, and what is said beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from sigsim.physics.arrays import scalar
from sigsim.quantities import length_text
from sigsim.show.kinds import Kind
from sigsim.show.lengths import sum_of
from sigsim.show.points import point

if TYPE_CHECKING:
    from sigsim.decide.layout.report import LayoutReport, Run
    from sigsim.decide.sheet_runs import Point


LENGTH: Final = Kind(
    lambda v: "-" if v is None or v < 0 else length_text(v),
    data=lambda v: None if v is None else float(v),
)


def total_of(report: LayoutReport) -> float:
    """Return all runs of a board together [m], in inches where all are shown in inches."""
    return sum_of((one.run, 1) for one in report.runs if one.run is not None)


def end_name(place: Point) -> str:
    """Return what one end of a cable is called, as on the wiring sheet."""
    return point(place)


def length_of(one: Run) -> float | None:
    """Return the length of a cable as it was written, or as it is to be taken."""
    return scalar(one.link.cable.length) if one.link.from_file else one.length


def remark(one: Run) -> str:
    """Return what is said beside a cable: what is wrong with it, or where its length is from."""
    if one.length is None:
        return {
            "no place": "needs a length",
            "no way": "no way",
            "too long": "too long a run",
            "joined": "joined in the box",
        }.get(one.why, "needs a length")
    if one.too_short:
        return f"{length_text(one.too_short)} too short"
    if one.tight:
        return "no room for a plug"
    if one.on_board is not None:
        return f"{length_text(one.on_board)} on board"
    if one.link.from_file:
        return "no way" if one.why == "no way" else "given"
    return ""
