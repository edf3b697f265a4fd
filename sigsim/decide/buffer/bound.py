"""A quick bound on what a changed board loses: its loss in the states that are worst now."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np

from sigsim.decide.buffer.views import View, mean
from sigsim.items.cable import Cable
from sigsim.metrics import USUAL_BASIS, over_level
from sigsim.states.circuit import Circuit
from sigsim.states.path import Met, in_reference, path

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import On


class LeastLoss:
    """What boards with the same things in another order lose at least.

    The worst of all states is no better than any one of them, so that a change whose loss in the
    states that are worst now is too large need not be searched.

    Parameters
    ----------
    board : as it is
    views : over what the loss is taken
    states : of each view that has a weight the one in which the board loses most
    """

    def __init__(self, board: Board, views: Sequence[View], states: Sequence[On]) -> None:
        weights = [view.weight for view in views if view.weight > 0]
        self.worst = list(zip(weights, states, strict=True))
        self.circuit = Circuit(board, USUAL_BASIS.frequency)
        # Steps are kept by the identity of items, so that these must live as long.
        self._boards: list[Board] = []
        self._lead: Cable | None = board.lead

    def of(self, board: Board) -> float:
        """Return the bound [dB] for a board; minus infinity where a state is silent."""
        self._boards.append(board)
        bound = mean(list(self._losses(board)))
        return bound if np.isfinite(bound) else -np.inf

    def _losses(self, board: Board) -> Iterator[tuple[float, float]]:
        for weight, on in self.worst:
            met = [self._as_known(one) for one in path(board.chain, on)]
            gain = self.circuit.level(met)
            ideal = self.circuit.level(
                one for one in met if in_reference(*one, USUAL_BASIS.reference)
            )
            with np.errstate(invalid="ignore"):
                yield weight, float(over_level(ideal - gain))

    def _as_known(self, met: Met) -> Met:
        """Return what is met, the lead as the one thing that it is: each board marks its own."""
        item = met.item
        if isinstance(item, Cable) and item.is_lead and item == self._lead:
            return Met(self._lead, met.on)
        return met
