"""A board as a page computes with it: its coefficients, its states, and which of them is worst."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sigsim.decide.page.coefficients import (
    Coefficients,
    coefficients,
    frequencies,
    pickup_factor,
)
from sigsim.states.circuit import Circuit
from sigsim.states.search import USUAL_SECONDS, worst_state

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import State
    from sigsim.metrics import Basis
    from sigsim.physics.arrays import FloatArray, Impedance


@dataclass(frozen=True)
class PageBoard:
    """What a page needs of a board to find any state by itself.

    Attributes
    ----------
    board : the board
    basis : what a loss is measured against and over
    frequency : of all arrays: the grid, then the exact points of the metrics [Hz]
    factor : by which all that is computed or stored as 1/H is to be divided [-]
    coefficients : of the board; None for a page that has only stored curves
    worst : the state with the largest treble loss of all
    proven : whether no state loses more than that
    """

    board: Board
    basis: Basis
    frequency: FloatArray
    factor: Impedance
    coefficients: Coefficients | None
    worst: State
    proven: bool


def page_board(
    board: Board,
    basis: Basis,
    *,
    worst: State | None = None,
    live: bool = True,
    seconds: float | None = None,
) -> PageBoard:
    """Return what a page needs of a board.

    Parameters
    ----------
    board : the board
    basis : what a loss is measured against and over
    worst : the worst state where it is known already
    live : whether the page computes states by itself
    seconds : how long to search for the worst state, None for as long as `loss` does
    """
    f = frequencies(basis)
    proven = True
    if worst is None:
        extreme = worst_state(board, basis, USUAL_SECONDS if seconds is None else seconds)
        worst, proven = board.state(extreme.on), extreme.exact
    found = coefficients(board, basis) if live else None
    return PageBoard(board, basis, f, pickup_factor(Circuit(board, f)), found, worst, proven)
