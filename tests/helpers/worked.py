"""Cases that bring their own board: what the program answers to the question that each asks."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from functools import cache
from typing import Any, Final, TypeAlias

import numpy as np

import sigsim
from sigsim import metrics
from sigsim.board.model import Board
from sigsim.metrics import Reference
from sigsim.states.circuit import Circuit
from sigsim.states.hand_check import HandCheck, hand_check
from sigsim.states.noise import noise

On: TypeAlias = frozenset[str]
_Ask: TypeAlias = Callable[[Board, On, float], float]


def answer(case: dict[str, Any]) -> float:
    """Return what the program says to a case that brings its own board.

    Raises
    ------
    KeyError : a question that nobody here can put
    """
    board = _read(case["board"]).heard_at(case.get("at", ""))
    on = frozenset(case.get("on", ()))
    return ASKS[case["asks"]](board, on, case["inputs"].get("frequency_hz", metrics.LEVEL_HZ))


@cache
def _read(text: str) -> Board:
    """Return a board, read once however often it is asked."""
    return sigsim.parse_board(text)


def _response(
    board: Board, on: On, frequency: float, reference: Reference = "ideal"
) -> sigsim.Response:
    return sigsim.response(board, on, np.array([frequency]), reference)


def _gain(board: Board, on: On, frequency: float) -> float:
    return float(_response(board, on, frequency).gain_db[0])


def _phase(board: Board, on: On, frequency: float) -> float:
    return float(_response(board, on, frequency).phase_deg[0])


def _loss(board: Board, on: On, frequency: float) -> float:
    return float(_response(board, on, frequency).loss_db[0])


def _loss_direct(board: Board, on: On, frequency: float) -> float:
    return float(_response(board, on, frequency, "direct").loss_db[0])


def _level(board: Board, on: On, frequency: float) -> float:
    return metrics.level(_response(board, on, frequency))


def _treble_loss(board: Board, on: On, frequency: float) -> float:
    return metrics.treble_loss(_response(board, on, frequency))


def _corner(board: Board, on: On, frequency: float) -> float:
    return metrics.corner(_response(board, on, frequency)) or math.nan


def _peak(board: Board, on: On, frequency: float) -> metrics.Resonance:
    peak = metrics.resonance(_response(board, on, frequency))
    return peak or metrics.Resonance(math.nan, math.nan)


def _noise(board: Board, on: On, frequency: float) -> float:
    return math.sqrt(noise(Circuit(board, np.array([frequency])), on).total[0])


def _hand(board: Board, on: On) -> HandCheck:
    """Return the hand check of the last segment, the one that ends at the destination."""
    return hand_check(board, on)[-1]


ASKS: Final[Mapping[str, _Ask]] = {
    "gain": _gain,
    "phase": _phase,
    "loss": _loss,
    "loss_direct": _loss_direct,
    "level": _level,
    "treble_loss": _treble_loss,
    "corner": _corner,
    "resonance_hz": lambda *asked: _peak(*asked).frequency,
    "resonance_db": lambda *asked: _peak(*asked).height,
    "noise": _noise,
    "hand_r": lambda board, on, _: _hand(board, on).source_resistance,
    "hand_c": lambda board, on, _: _hand(board, on).capacitance,
    "hand_rc": lambda board, on, _: _hand(board, on).rc_corner or math.nan,
    "hand_lc": lambda board, on, _: _hand(board, on).lc_resonance or math.nan,
}
