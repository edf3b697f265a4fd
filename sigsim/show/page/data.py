"""What the page computes with: coefficients and curves packed small, and the chain as boxes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from sigsim.board.ends import place_of_end
from sigsim.board.state import ALL_OFF_TITLE
from sigsim.decide.page.board import page_board
from sigsim.decide.page.coefficients import POINTS, frequencies
from sigsim.decide.page.report import DRAWN, MOST_ITEMS
from sigsim.items.instrument import ActiveInstrument
from sigsim.metrics import (
    HALF_POWER_DB,
    LEAST_RESONANCE_DB,
    LEVEL_SAID_DB,
    LOSS_HZ,
    NOTICED_DB,
    SEARCH,
    SILENT_DB,
    USUAL_BASIS,
    WORDS,
)
from sigsim.show.ends import ended, why_silent
from sigsim.show.names import shortened, told_apart
from sigsim.show.page.boxes import Boxes, machine
from sigsim.show.page.line import line
from sigsim.show.page.pool import Pool
from sigsim.show.render.text import plain

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sigsim.board.model import Board
    from sigsim.board.state import State
    from sigsim.decide.page.board import PageBoard
    from sigsim.decide.page.report import Overlay, ReportData, SceneCurves
    from sigsim.decide.spread.report import SpreadReport
    from sigsim.metrics import Basis
    from sigsim.physics.arrays import FloatArray

_NAME: Final = 80
_TITLE: Final = 200
# Open strings: the bass's [Hz] as published, the guitar's by equal temperament from A 440 Hz.
_SEMITONES: Final = {"E2": -29, "A2": -24, "D3": -19, "G3": -14, "B3": -10, "E4": -5}
RULERS: Final = {
    "bass": [["B0", 30.868], ["E1", 41.204], ["A1", 55.0], ["D2", 73.416], ["G2", 97.999]],
    "guitar": [[name, 440 * 2 ** (semitones / 12)] for name, semitones in _SEMITONES.items()],
}
# What the page's model finds corner, resonance and silence by: as `metrics` does.
METRICS: Final = {
    "search": SEARCH.tolist(),
    "halfPower": HALF_POWER_DB,
    "leastResonance": LEAST_RESONANCE_DB,
    "silent": SILENT_DB,
}


def board_data(
    board: Board,
    basis: Basis = USUAL_BASIS,
    *,
    worst: State | None = None,
    stored: Sequence[SceneCurves] = (),
) -> dict[str, Any]:
    """Return a board as the page computes with it and draws it: `BoardData` of `types.js`.

    Parameters
    ----------
    board : the board
    basis : what a loss is measured against and over
    worst : the worst state where it is known already
    stored : curves of all off, the scenes and the worst, for a page that computes nothing itself
    """
    made = page_board(board, basis, worst=worst, live=not stored)
    pool = Pool(made.frequency.size)
    document = _measures(basis) | _board(made)
    document["factor"] = pool.add(made.factor)
    document["states"] = _named_states(made)
    document |= line(made, pool)
    for state, scene in zip(document["states"], stored, strict=bool(stored)):
        state["board"] = pool.array(scene.board)
        state["splits"] = pool.add(scene.splits)
        state["reference"] = pool.array(scene.reference)
        state["bare"] = pool.array(scene.bare)
    return document | {"pool": pool.texts}


def _measures(basis: Basis) -> dict[str, Any]:
    """Return by what a page measures, whatever the board is."""
    frequency = frequencies(basis)
    losses = range(POINTS + 1, POINTS + 1 + len(LOSS_HZ))
    return {
        "size": frequency.size,
        "points": POINTS,
        "low": float(frequency[0]),
        "high": float(frequency[POINTS - 1]),
        "drawn": [float(DRAWN[0]), float(DRAWN[-1]), DRAWN.size],
        "exact": {
            "level": POINTS,
            "loss": [*losses],
            "treble": [*range(losses.stop, frequency.size)],
        },
        "lossAt": list(LOSS_HZ),
        "words": [[limit if np.isfinite(limit) else None, word] for limit, word in WORDS],
        "trebleBand": [float(f) for f in basis.band],
        "levelSaid": LEVEL_SAID_DB,
        "weakSaid": NOTICED_DB,
        "metrics": METRICS,
        "reference": basis.reference,
        "allOff": ALL_OFF_TITLE,
        "rulers": RULERS,
    }


def _board(made: PageBoard) -> dict[str, Any]:
    """Return what a page says of a board as a whole."""
    board = made.board
    part, main = board.instrument.part, board.destination.name
    listened = place_of_end(board.listed, board.at)
    return {
        "live": made.coefficients is not None,
        "title": plain(board.name, _TITLE),
        "silence": ended(why_silent(board, ())),
        "instrument": f"instrument ({plain(part, _NAME)})" if part else "instrument",
        "active": isinstance(board.instrument, ActiveInstrument),
        "instrumentAt": {"instrument": True},
        "destination": plain(board.end.name, _NAME),
        "destinationAt": {"destination": list(listened)},
        # A split may go by the name of the chain's own end, which then goes without one.
        "ends": ["" if main in board.ends else main, *board.ends[1:]],
        "at": board.at or ("" if main in board.ends else main),
        "switches": list(board.switches()),
    }


def _named_states(made: PageBoard) -> list[dict[str, Any]]:
    """Return the states with a button: all off, each scene, and the worst."""
    numbers = {name: i for i, name in enumerate(made.board.switches())}

    def button(kind: str, name: str, title: str, on: Sequence[str]) -> dict[str, Any]:
        return {"kind": kind, "name": name, "title": title, "on": [numbers[n] for n in on]}

    off, *scenes = made.board.named_states()
    worst = made.worst
    return [
        button("off", off.title, "", off.on),
        *(
            button("scene", plain(s.title, 40), f"scene {plain(s.title, _NAME)}", s.on)
            for s in scenes
        ),
        button("worst", "worst of all", plain(worst.title, _TITLE), worst.on),
    ]


def page_data(data: ReportData) -> dict[str, Any]:
    """Return what the page needs to draw any state, or only the scenes."""
    board = data.question.board
    part = board.instrument.part
    pool = Pool(data.frequency.size)
    exact = POINTS + np.arange(data.frequency.size - POINTS)
    document: dict[str, Any] = {
        "live": data.coefficients is not None,
        "size": data.frequency.size,
        "points": POINTS,
        "low": float(data.frequency[0]),
        "high": float(data.frequency[POINTS - 1]),
        "drawn": [float(DRAWN[0]), float(DRAWN[-1]), DRAWN.size],
        "exact": {
            "level": int(exact[0]),
            "loss": exact[1 : 1 + len(LOSS_HZ)].tolist(),
            "treble": exact[1 + len(LOSS_HZ) :].tolist(),
        },
        "lossAt": list(LOSS_HZ),
        "words": [[limit if np.isfinite(limit) else None, word] for limit, word in WORDS],
        "trebleBand": [float(f) for f in data.question.basis.band],
        "levelSaid": LEVEL_SAID_DB,
        "metrics": METRICS,
        "reference": data.question.basis.reference,
        "factor": pool.add(data.factor),
        "allOff": ALL_OFF_TITLE,
        "silence": ended(why_silent(board, ())),
        "instrument": f"instrument ({part})" if part else "instrument",
        "destination": plain(board.end.name, _NAME),
        "states": _states(data),
        "overlays": [
            curves
            for other, name in zip(data.overlays, board_names(data, 30)[1:], strict=True)
            for curves in _overlay(other, name)
        ],
        "rulers": RULERS,
    }
    if data.coefficients is not None:
        document |= machine(board, data.coefficients, pool)
    else:
        document["chain"] = Boxes(board).boxes(board.chain[:MOST_ITEMS])
        left = len(board.chain) - MOST_ITEMS
        if left > 0:
            document["chain"].append({"kind": "tap", "name": f"{left:,} more"})
        for state, scene in zip(document["states"], data.scenes, strict=True):
            state["board"] = pool.array(scene.board)
            state["splits"] = pool.add(scene.splits)
            state["reference"] = pool.array(scene.reference)
            state["bare"] = pool.array(scene.bare)
    return document | {"pool": pool.texts}


def _states(data: ReportData) -> list[dict[str, Any]]:
    """Return the buttons: every stage off, each scene, and the worst."""
    numbers = {name: i for i, name in enumerate(data.question.board.switches())}

    def button(name: str, title: str, on: Sequence[str]) -> dict[str, Any]:
        return {"name": name, "title": title, "on": [numbers[n] for n in on]}

    off, *scenes = (measured.state for measured in data.losses.states)
    worst = data.losses.worst.state
    return [
        button(off.title, "", off.on),
        *(button(plain(s.title, 40), f"scene {plain(s.title, _NAME)}", s.on) for s in scenes),
        button("Worst of all", plain(worst.title, 200), worst.on),
    ]


def board_names(data: ReportData, longest: int) -> list[str]:
    """Return names of the board and those compared with, told apart by files if need be."""
    boards = [data.losses.board, *(other.report.board for other in data.overlays)]
    titles = shortened([board.name for board in boards], longest)
    names = told_apart(boards, longest)
    return [
        title if title == name else f"{title} ({name})"
        for title, name in zip(titles, names, strict=True)
    ]


def _overlay(other: Overlay, name: str) -> list[dict[str, Any]]:
    return [
        {"name": f"{name}, {what}", "gain": _numbers(gain), "loss": _numbers(loss)}
        for what, gain, loss in zip((ALL_OFF_TITLE, "worst"), other.gain, other.loss, strict=True)
    ]


def bands(report: SpreadReport) -> list[dict[str, Any]]:
    """Return the band of every state's curves as the page draws it."""
    switches = {name: i for i, name in enumerate(report.question.board.switches())}
    return [
        {
            "state": number,
            "on": [switches[name] for name in state.state.on],
            "frequency": [round(f, 3) for f in curves.frequency.tolist()],
            "low": _numbers(curves.low),
            "high": _numbers(curves.high),
        }
        for number, state in enumerate((*report.states, report.worst))
        if state is not None and (curves := state.curves) is not None
    ]


def _numbers(values: FloatArray) -> list[float | None]:
    """Return a curve for the page: 0.001 dB is finer than any screen."""
    return [round(v, 3) if np.isfinite(v) else None for v in values.tolist()]
