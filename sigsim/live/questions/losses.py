"""Treble losses of many boards that share most of their things, in one state and at worst."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from sigsim.errors import SigsimError
from sigsim.items.cable import Cable
from sigsim.metrics import USUAL_BASIS, losses, over_level
from sigsim.states.circuit import Circuit
from sigsim.states.measure import treble
from sigsim.states.path import Met, path, reference_path
from sigsim.states.search import ranked

if TYPE_CHECKING:
    from typing import TypeAlias

    from sigsim.board.model import Board
    from sigsim.metrics import Reference

    Cancelled: TypeAlias = Callable[[], bool]

# A worst state is looked for so long [s] before what was found so far counts.
_SECONDS: Final = 2.0
# What the search and the exact model differ by at most [dB].
SAME_DB: Final = 1e-6


class CancelledError(Exception):
    """Nobody waits for the answer any more."""


@dataclass(frozen=True)
class Worst:
    """The worst of all states.

    Attributes
    ----------
    loss : the treble loss [dB]; not a number where nothing is heard
    proven : whether every state was covered
    """

    loss: float
    proven: bool


class Losses:
    """What boards lose that are the same but for a change.

    Parameters
    ----------
    board : as it is
    on : the names of what is on in the state that is shown
    cancelled : asked between two boards
    """

    def __init__(self, board: Board, on: Iterable[str], cancelled: Cancelled) -> None:
        self.board = board
        self.on = frozenset(on)
        self.cancelled = cancelled
        self.proven = True
        self._circuit = Circuit(board, USUAL_BASIS.frequency)
        # Steps are kept by the identity of items, so that these must live as long.
        self._boards: list[Board] = [board]
        self._lead: Cable | None = board.lead

    def check(self) -> None:
        """Stop where nobody waits any more.

        Raises
        ------
        CancelledError : so it is
        """
        if self.cancelled():
            raise CancelledError

    def loss(self, board: Board, *, with_lead: bool = False) -> float:
        """Return the treble loss [dB] of a board in the state shown; infinite where it is silent.

        Parameters
        ----------
        board : with the same instrument and end
        with_lead : whether the lead counts too
        """
        self.check()
        self._boards.append(board)
        on = self.on & {*board.switches()}
        reference: Reference = "bare" if with_lead else USUAL_BASIS.reference
        gain = self._circuit.level(map(self._as_known, path(board.chain, on)))
        ideal = self._circuit.level(map(self._as_known, reference_path(board, on, reference)))
        loss = float(over_level(losses(ideal, gain)))
        return loss if math.isfinite(loss) else math.inf

    def _as_known(self, met: Met) -> Met:
        """Return what is met, the lead as the one thing that it is: each board marks its own."""
        item = met.item
        if isinstance(item, Cable) and item.is_lead and item == self._lead:
            return Met(self._lead, met.on)
        return met

    def worst(self, board: Board, *, with_lead: bool = False) -> Worst:
        """Return the worst of all states of a board."""
        self.check()
        basis = replace(USUAL_BASIS, reference="bare") if with_lead else USUAL_BASIS
        try:
            found = ranked(board, treble(basis), seconds=_SECONDS)[0]
        except SigsimError:
            return Worst(math.nan, False)
        self.proven = self.proven and found.exact
        return Worst(found.value, found.exact)
