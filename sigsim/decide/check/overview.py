"""What a board amounts to: cable, capacitance, switches, cautions."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sigsim.decide.check.cautions import Caution, cautions
from sigsim.items.cable import Cable
from sigsim.items.tap import Tap
from sigsim.states.count import distinct_states
from sigsim.states.hand_check import hand_check

if TYPE_CHECKING:
    from sigsim.board.model import Board


@dataclass(frozen=True)
class Overview:
    """The facts of a board that need no curve.

    Attributes
    ----------
    board : the board
    on : the state that is drawn
    cable_length : of all cables together [m]; cable_pieces : how many
    cable_capacitance : of all cables with their plugs [F]
    on_instrument : capacitance that hangs on the instrument in this state [F]
    states : how many states differ
    cautions : what to look at
    """

    board: Board
    on: frozenset[str]
    cable_length: float
    cable_pieces: int
    cable_capacitance: float
    on_instrument: float
    states: int
    cautions: tuple[Caution, ...]


def overview(board: Board, on: frozenset[str]) -> Overview:
    """Return the facts of a board; `on` is the state whose capacitance is added up."""
    cables = [item for item in board.items() if isinstance(item, Cable)]
    cables += [item.cable for item in board.items() if isinstance(item, Tap)]
    return Overview(
        board=board,
        on=on,
        cable_length=sum(float(np.mean(cable.length)) for cable in cables),
        cable_pieces=len(cables),
        cable_capacitance=sum(float(np.mean(c.shunt_capacitance(True))) for c in cables),
        on_instrument=hand_check(board, on)[0].capacitance,
        states=distinct_states(board),
        cautions=cautions(board),
    )
