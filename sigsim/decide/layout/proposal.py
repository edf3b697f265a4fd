"""Rows in which the runs are shorter, and what the board then loses."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sigsim.board.relaid import relaid
from sigsim.decide.layout.report import SAME_M, layout_report
from sigsim.layout.trying import tried

if TYPE_CHECKING:
    from collections.abc import Callable

    from sigsim.decide.layout.report import LayoutReport, Standing
    from sigsim.layout.model import Socket


@dataclass(frozen=True)
class Proposal:
    """What was found for the rows of a board.

    Attributes
    ----------
    now : the board as its file has it
    better : the board in the rows that are proposed, None where nothing is gained
    exact : whether no other rows are shorter, and none fit where these do not; else these are the
        best found
    stopped : whether the search was stopped from the keyboard
    fits : where boxes in the rows hang over an edge now, or stand in others: whether rows were
        found in which none does; None where none does now
    """

    now: LayoutReport
    better: LayoutReport | None
    exact: bool
    stopped: bool = False
    fits: bool | None = None

    @property
    def rows(self) -> tuple[tuple[str, ...], ...]:
        """The rows that are proposed, the back row first; none where nothing is gained."""
        own = None if self.better is None else self.better.own
        return () if own is None else own.laying.layout.rows


def proposal(
    report: LayoutReport, seconds: float, stop: Callable[[], bool], was_stopped: Callable[[], bool]
) -> Proposal:
    """Return the rows with the shortest sum of runs, where that is shorter than it is.

    Where boxes in rows hang over an edge or stand in others, rows in which none does come first, be
    they longer.

    Parameters
    ----------
    report : of a board whose own file has a layout
    seconds : how long to look [s]
    stop : asked now and then whether to end
    was_stopped : whether the keyboard ended it
    """
    own = report.own
    assert own is not None, "who asks has seen that there is a layout"
    layout = own.laying.layout
    fits, exact = None, True
    if _is_wrong(own):
        begun = time.monotonic()
        trial = tried(layout, _pairs(own), seconds=seconds, stop=stop, fits=True)
        if trial.fits:
            better = layout_report(relaid(report.board, replace(layout, rows=trial.rows)))
            return Proposal(report, better, trial.exact, was_stopped(), fits=True)
        fits, exact = False, trial.exact
        seconds -= time.monotonic() - begun
    trial = tried(layout, _pairs(own), seconds=seconds, stop=stop)
    exact = exact and trial.exact
    if trial.rows == layout.rows:
        return Proposal(report, None, exact, was_stopped(), fits)
    better = layout_report(relaid(report.board, replace(layout, rows=trial.rows)))
    gains = _without_way(better) < _without_way(report) or better.total < report.total - SAME_M
    return Proposal(report, better if gains else None, exact, was_stopped(), fits)


def _is_wrong(own: Standing) -> bool:
    """Whether a box in a row hangs over an edge or stands in another."""
    moving = {n for n, box in own.laying.layout.boxes.items() if box.place is None}
    wrong = {over.name for over in own.overhangs} | {n for pair in own.overlaps for n in pair}
    return not moving.isdisjoint(wrong)


def _pairs(own: Standing) -> list[tuple[Socket, Socket]]:
    """Return the sockets of all cables that run between two boxes of a layout."""
    return [run.link.pair for run in own.between if run.link.pair is not None]


def _without_way(report: LayoutReport) -> int:
    own = report.own
    return 0 if own is None else sum(one.run is None for one in own.between)
