"""What a change to a board does to the level, to be said beside its treble loss."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from sigsim import metrics
from sigsim.decide.buffer.views import mean
from sigsim.states.measure import treble
from sigsim.states.response import Response, Solver, grid
from sigsim.states.search import ranked

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import On
    from sigsim.decide.buffer.views import View
    from sigsim.states.search import Ranked


def worst_in(board: Board, views: Sequence[View]) -> list[Ranked]:
    """Return the state of each view that has a weight in which the board loses most."""
    measure = treble(metrics.USUAL_BASIS)
    counted = [view for view in views if view.weight > 0]
    return [ranked(board, measure, fixed=view.fixed)[0] for view in counted]


def largest(changes: Sequence[float]) -> float:
    """Return the change of level [dB] that is the largest, whichever way it goes."""
    return max((c for c in changes if math.isfinite(c)), key=abs, default=math.nan)


class LevelBeside:
    """The level of a board in the states in which it loses most, and what changes do to it.

    Parameters
    ----------
    board : as it is
    views : over what the loss is taken

    Attributes
    ----------
    states : of each view that has a weight the one in which the board loses most
    loss : over these views, as `loss_over` tells it [dB]
    now : the level in each of the states [dB]
    """

    def __init__(self, board: Board, views: Sequence[View]) -> None:
        worst = worst_in(board, views)
        self.states: list[On] = [found.on for found in worst]
        weights = (view.weight for view in views if view.weight > 0)
        self.loss = mean([(w, found.value) for w, found in zip(weights, worst, strict=True)])
        self.now = self._levels(board)

    def change(self, changed: Board) -> float:
        """Return the largest change of level at 100 Hz [dB] on a changed board."""
        pairs = zip(self._levels(changed), self.now, strict=True)
        return largest([then - now for then, now in pairs if math.isfinite(now)])

    def _levels(self, board: Board) -> list[float]:
        solver = Solver(board)
        return [metrics.level(Response(solver, on, grid(points=2), "ideal")) for on in self.states]
