"""What is silent among many states, told by their levels and those of their references."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.metrics import LEVEL_HZ, sounds
from sigsim.states.measure import Measure, Measures

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sigsim.physics.arrays import FloatArray

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
