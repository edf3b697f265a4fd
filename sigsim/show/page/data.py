"""What the page computes with: coefficients and curves packed small, and the chain as boxes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from sigsim.board.ends import place_of_end
from sigsim.board.state import ALL_OFF_TITLE
from sigsim.decide.page.board import page_board
from sigsim.decide.page.coefficients import POINTS, frequencies
from sigsim.decide.page.report import DRAWN
from sigsim.items.instrument import ActiveInstrument
from sigsim.items.passive_stage import VolumePedal
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
from sigsim.show.ends import KNOB, ended, why_silent
from sigsim.show.page.line import line
from sigsim.show.page.pool import Pool
from sigsim.show.render.text import plain

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sigsim.board.model import Board
    from sigsim.board.state import State
    from sigsim.decide.page.board import PageBoard
    from sigsim.decide.page.report import SceneCurves
    from sigsim.metrics import Basis

_NAME: Final = 80
_TITLE: Final = 200
# What one plays, by what the name of its part says.
_PLAYED: Final = ("bass", "guitar")
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
    seconds: float | None = None,
) -> dict[str, Any]:
    """Return a board as the page computes with it and draws it: `BoardData` of `types.js`.

    Parameters
    ----------
    board : the board
    basis : what a loss is measured against and over
    worst : the worst state where it is known already
    stored : curves of all off, the scenes and the worst, for a page that computes nothing itself
    seconds : how long to search for the worst state, None for as long as `loss` does
    """
    made = page_board(board, basis, worst=worst, live=not stored, seconds=seconds)
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
    }


def _board(made: PageBoard) -> dict[str, Any]:
    """Return what a page says of a board as a whole."""
    board = made.board
    part, main = board.instrument.part, board.destination.name
    listened = place_of_end(board.listed, board.at)
    return {
        "live": made.coefficients is not None,
        "title": plain(board.name, _TITLE),
        **_silence(board),
        "instrument": next((word for word in _PLAYED if word in part), "instrument"),
        "active": isinstance(board.instrument, ActiveInstrument),
        "instrumentAt": {"instrument": True},
        "destination": plain(board.end.name, _NAME),
        "destinationAt": {"place": listened, "end": True} if listened else {"destination": True},
        # A split may go by the name of the chain's own end, which then goes without one.
        "ends": ["" if main in board.ends else main, *board.ends[1:]],
        "at": board.at or ("" if main in board.ends else main),
        "switches": list(board.switches()),
    }


def _silence(board: Board) -> dict[str, Any]:
    """Return why nothing comes out, in whatever state, and where that hangs on a switch."""
    numbers = {name: i for i, name in enumerate(board.switches())}
    around = board.loops_out(())
    found = [(loop, False, why_silent(board, {*around} - {loop})) for loop in around]
    usual = why_silent(board, around)
    if usual == KNOB:
        pedals = [item.stage for item in board.items() if isinstance(item, VolumePedal)]
        found += [(name, True, why_silent(board, {*around, name})) for name in pedals]
    return {
        "silence": ended(usual),
        "silences": [
            {"s": numbers[name], "on": on, "text": ended(text)}
            for name, on, text in found
            if name in numbers and text != KNOB
        ],
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
        button(
            "worst",
            "worst of all" if made.proven else "worst found",
            plain(worst.title, _TITLE),
            worst.on,
        ),
    ]
