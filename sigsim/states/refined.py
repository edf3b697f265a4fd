"""Corner and resonance of some of many states from the exact model, where a grid is not enough."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cached_property
from threading import local
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim import metrics
from sigsim.states.distinct import distinct_states
from sigsim.states.response import Response, Solver, grid

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sigsim.board.model import Board

# So many states are refined where interpolation is too rough: it takes milliseconds for each.
_MOST_REFINED: Final = 2048


class Refiner:
    """What is refined in a list of states: those with names, and those that need it.

    Parameters
    ----------
    board : the board
    bit : of every switch in the number of a state
    fixed : what is held on or off
    """

    def __init__(self, board: Board, bit: Mapping[str, int], fixed: Mapping[str, bool]) -> None:
        self.board, self.bit, self.fixed = board, bit, fixed
        self._memory = local()

    def rows(
        self, on: NDArray[np.uint64], heard: NDArray[np.bool_], rough: NDArray[np.int64]
    ) -> list[int]:
        """Return which rows of a block of states to refine.

        Parameters
        ----------
        on : what is on as bits, shape (states,)
        heard : whether a state can be heard, shape (states,)
        rough : rows that need it; of long lists only some are done
        """
        share = math.ceil(on.size * min(1.0, _MOST_REFINED / self._total))
        rows = np.union1d(np.flatnonzero(np.isin(on, self._named)), np.unique(rough)[:share])
        found: list[int] = rows[heard[rows]].tolist()
        return found

    def numbers(self, on: int) -> tuple[float, float, float]:
        """Return corner, resonance [Hz] and its height [dB] of a state; not a number for none."""
        if not hasattr(self._memory, "solver"):
            self._memory.solver = Solver(self.board)
        names = frozenset(name for name, bit in self.bit.items() if on & bit)
        response = Response(self._memory.solver, names, grid(points=2), "ideal")
        corner, peak = metrics.corner(response), metrics.resonance(response)
        of_peak = (np.nan, np.nan) if peak is None else (peak.frequency, peak.height)
        return (np.nan if corner is None else corner, *of_peak)

    @cached_property
    def _named(self) -> NDArray[np.uint64]:
        """The bits of the states that the board names."""
        states = [self.board.heard(state.on) for state in self.board.named_states()]
        return np.array([sum(self.bit.get(n, 0) for n in on) for on in states], dtype=np.uint64)

    @cached_property
    def _total(self) -> int:
        return distinct_states(self.board, self.fixed)
