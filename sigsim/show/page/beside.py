"""Curves that the page has beside those of its board: of other boards, and of tolerances."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from sigsim.decide.page.report import DRAWN
from sigsim.show.names import shortened, told_apart

if TYPE_CHECKING:
    from sigsim.decide.page.report import ReportData
    from sigsim.decide.spread.report import SpreadReport
    from sigsim.physics.arrays import FloatArray


def board_names(data: ReportData, longest: int) -> list[str]:
    """Return names of the board and those compared with, told apart by files if need be."""
    boards = [data.losses.board, *(other.report.board for other in data.overlays)]
    titles = shortened([board.name for board in boards], longest)
    names = told_apart(boards, longest)
    return [
        title if title == name else f"{title} ({name})"
        for title, name in zip(titles, names, strict=True)
    ]


def others(data: ReportData) -> list[dict[str, Any]]:
    """Return the gain of every other board [dB] where it is drawn: all off, and at its worst."""
    named = zip(data.overlays, board_names(data, 30)[1:], strict=True)
    return [
        {"name": name, "off": _numbers(other.gain[0]), "worst": _numbers(other.gain[1])}
        for other, name in named
    ]


def bands(report: SpreadReport) -> list[dict[str, Any]]:
    """Return the band of every state's gain [dB], where it is drawn."""
    switches = {name: i for i, name in enumerate(report.question.board.switches())}
    return [
        {
            "state": number,
            "on": [switches[name] for name in state.state.on],
            "low": _numbers(_drawn(curves.frequency, curves.low)),
            "high": _numbers(_drawn(curves.frequency, curves.high)),
        }
        for number, state in enumerate((*report.states, report.worst))
        if state is not None and (curves := state.curves) is not None
    ]


def _drawn(frequency: FloatArray, values: FloatArray) -> FloatArray:
    """Return a curve where the page draws; between the points of its own it is straight."""
    order = np.argsort(frequency)
    places = np.log(DRAWN), np.log(frequency[order])
    drawn: FloatArray = np.interp(*places, values[order])
    return drawn


def _numbers(values: FloatArray) -> list[float | None]:
    """Return a curve for the page: 0.001 dB is finer than any screen."""
    return [round(v, 3) if np.isfinite(v) else None for v in values.tolist()]
