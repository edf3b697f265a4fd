"""Why nothing comes out of a board in a state, as far as the file tells."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from sigsim.decide.check.cautions import knobs_at_zero
from sigsim.decide.check.unheard import cancelled

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import On


@dataclass(frozen=True)
class Silence:
    """One reason.

    Attributes
    ----------
    cause : what it is
    name : of the loop, or what the knob is of
    """

    cause: Literal["loop out", "pickups cancel", "knob at 0", "unknown"]
    name: str = ""


def silence(board: Board, on: On) -> Silence:
    """Return why nothing comes out of a board in a state that is silent.

    Parameters
    ----------
    board : listened at one of its ends
    on : the names of what is on
    """
    if out := board.loops_out(on):
        return Silence("loop out", out[0])
    if cancelled(board.instrument):
        return Silence("pickups cancel")
    if knob := next(knobs_at_zero(board, on), None):
        return Silence("knob at 0", knob)
    return Silence("unknown")
