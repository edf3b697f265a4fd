"""Corners of all states as they stream by: the lowest, the highest, how many lie under a limit."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from sigsim.states.shape import Half, Scratch, Shapes

if TYPE_CHECKING:
    from sigsim.board.state import On
    from sigsim.physics.arrays import FloatArray
    from sigsim.states.blocks import StateBlock
    from sigsim.states.every import EveryState
    from sigsim.states.summed import Sample


class CornerTally:
    """Keeps the extremes of what it is given, of which the first measure is the level.

    Parameters
    ----------
    limit : states with a corner under this are counted [Hz]
    lowest, highest : how many of each to keep
    """

    def __init__(self, limit: float, lowest: int, highest: int) -> None:
        self.limit, self.below = limit, 0
        self._lowest, self._highest = lowest, highest
        self._low: list[tuple[float, On]] = []
        self._high: list[tuple[float, On]] = []

    def add(self, block: StateBlock, every: EveryState) -> None:
        """Take in a block of states."""
        self._add(
            self._ordered(block.corner, block.measures[0]),
            lambda row: every.names(int(block.on[row])),
        )

    def add_sample(self, sample: Sample) -> None:
        """Take in drawn states."""
        with np.errstate(all="ignore"):
            corner, _ = Shapes(Half.of_gain(sample.gain), Half.nothing(), Scratch()).corners()
        self._add(self._ordered(corner, sample.measures[0]), lambda row: sample.on[row])

    @staticmethod
    def _ordered(corner: FloatArray, level: FloatArray) -> FloatArray:
        """Return corners to order by; not a number for silent states, which do not count."""
        # A state without a corner keeps all its treble: higher than any.
        return np.where(np.isnan(corner) & (level > -np.inf), np.inf, corner)

    def _add(self, corner: np.ndarray, names: Callable[[int], On]) -> None:
        self.below += int(np.count_nonzero(corner < self.limit))
        for sign, kept, most in ((1, self._low, self._lowest), (-1, self._high, self._highest)):
            bound = kept[-1][0] if len(kept) == most else np.inf
            better = np.flatnonzero(sign * corner < bound)
            if better.size > most:
                better = better[np.argpartition(sign * corner[better], most - 1)[:most]]
            kept += [(sign * float(corner[row]), names(row)) for row in better.tolist()]
            kept.sort(key=lambda entry: entry[0])
            del kept[most:]

    def worst(self) -> tuple[On, ...]:
        """Return the states with the lowest corners, lowest first."""
        return tuple(on for _, on in self._low)

    def best(self) -> tuple[On, ...]:
        """Return the states with the highest corners, highest first."""
        return tuple(on for _, on in self._high)
