"""What a board amounts to: cable, capacitance, switches, cautions."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sigsim.decide.check.caution import Caution
from sigsim.decide.check.cautions import cautions
from sigsim.decide.check.standing import OnBoard, leads_on_board
from sigsim.decide.check.versions import of_versions
from sigsim.decide.measured import MeasuredThing, measured
from sigsim.physics.arrays import scalar
from sigsim.states.distinct import distinct_states
from sigsim.states.hand_check import hand_check

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import State


@dataclass(frozen=True)
class Overview:
    """The facts of a board that need no curve.

    Attributes
    ----------
    board : the board
    state : which is drawn
    cable_length : of all cables together [m]; cable_pieces : how many
    cable_capacitance : of all cables with their plugs [F]
    on_instrument : capacitance that hangs on the instrument in this state [F]
    states : how many states differ
    cautions : what to look at
    measured : all whose figures the file says were measured
    on_board : what of the leads lies on the board, where its layout says it
    """

    board: Board
    state: State
    cable_length: float
    cable_pieces: int
    cable_capacitance: float
    on_instrument: float
    states: int
    cautions: tuple[Caution, ...]
    measured: tuple[MeasuredThing, ...] = ()
    on_board: tuple[OnBoard, ...] = ()


def overview(board: Board, state: State) -> Overview:
    """Return the facts of a board; the capacitance is added up in a state."""
    cables = list(board.pieces())
    return Overview(
        board=board,
        state=state,
        cable_length=sum(scalar(cable.length) for cable in cables),
        cable_pieces=len(cables),
        cable_capacitance=sum(scalar(cable.shunt_capacitance()) for cable in cables),
        on_instrument=hand_check(board, state.on)[0].capacitance,
        states=distinct_states(board),
        cautions=(*cautions(board), *of_versions(board)),
        measured=measured(board),
        on_board=leads_on_board(board),
    )
