"""What is silent among many states, told by their levels and those of their references."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.metrics import LEVEL_HZ, sounds
from sigsim.states.measure import Measure, Measures

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sigsim.physics.arrays import FloatArray
    from sigsim.states.forms import Index

# Left rows looked at together.
_CHUNK: Final = 256
LEVEL: Final = Measure(np.array([LEVEL_HZ]), None)


class Levelled:
    """Measures with the level and the loss of level behind them, which tell what is silent.

    Parameters
    ----------
    measures : what is asked for

    Attributes
    ----------
    columns : all of it, to be added up over segments
    """

    def __init__(self, measures: Sequence[Measure]) -> None:
        self.measures = tuple(measures)
        reference = Measures(self.measures).reference
        lost = () if reference is None else (Measure(LEVEL.frequency, reference),)
        self.columns = (*self.measures, LEVEL, *lost)
        self._losses = np.array([m.reference is not None for m in self.measures], dtype=bool)

    def heard(self, sums: FloatArray) -> tuple[FloatArray, NDArray[np.bool_]]:
        """Return the measures of states and which of these are silent.

        Parameters
        ----------
        sums : of all columns [dB], shape (columns, states)

        Returns
        -------
        shape (measures, states); a silent state has a level of minus infinity, and not a number
        for its losses, as for one against a silent reference
        """
        found, level = np.split(sums, [len(self.measures)])
        found, silent = found.copy(), ~sounds(level[0])
        with np.errstate(invalid="ignore"):
            unheard = silent | ~sounds(level.sum(axis=0))
        found[np.ix_(~self._losses, silent)] = -np.inf
        found[np.ix_(self._losses, unheard)] = np.nan
        return found, silent

    def told(self, left: FloatArray, right: FloatArray) -> Iterator[tuple[Index, Index]]:
        """Yield groups of rows so that each left with each right one is a state with a loss.

        Every state of which a loss can be told is in one of them, and no other.

        Parameters
        ----------
        left, right : sums of all columns [dB], shape (rows, columns)
        """
        ends = [self._levels(side) for side in (left, right)]
        if sounds(ends[0].min(axis=0) + ends[1].min(axis=0)).all():
            yield np.arange(len(left)), np.arange(len(right))
            return
        masks = [
            np.packbits(sounds(some[:, None] + ends[1]).all(axis=2), axis=1)
            for some in np.array_split(ends[0], max(1, len(left) // _CHUNK))
        ]
        different, group = np.unique(np.concatenate(masks), axis=0, return_inverse=True)
        for number, mask in enumerate(different):
            heard = np.unpackbits(mask, count=len(right)).astype(bool)
            yield np.flatnonzero(group.ravel() == number), np.flatnonzero(heard)

    def _levels(self, sums: FloatArray) -> FloatArray:
        """Return the levels of board and reference [dB], shape (rows, 1 or 2)."""
        added = sums[:, len(self.measures) :]
        with np.errstate(invalid="ignore"):
            levels = np.stack((added[:, 0], added.sum(axis=1)), axis=1)
        # Where nothing comes, nothing helps.
        return np.where(np.isnan(levels) | (levels == np.inf), -np.inf, levels)
