"""Rows that say nearly the same are one row for a reader; data keep every row."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Hashable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Generic, TypeVar

import numpy as np

from sigsim.metrics import LEVEL_HZ, third_octaves

if TYPE_CHECKING:
    from sigsim.physics.arrays import FloatArray

# Rows are one where no figure differs by more [dB]: a step of the last digit printed.
FOLDED_DB: Final = 0.1
# Rows are the same where nothing but rounding makes a difference [dB].
SAME_DB: Final = 1e-6
# Rounding of a difference that is just the limit.
_SLACK_DB: Final = 1e-9
# Where two responses are compared [Hz]: third octaves from the level's frequency on.
COMPARED_HZ: Final = third_octaves(LEVEL_HZ, 20_000.0)

_Row = TypeVar("_Row")


@dataclass(frozen=True)
class Fold(Generic[_Row]):
    """One row that stands for several.

    Attributes
    ----------
    rank : of the first among all rows, from 1
    first : the row that is shown
    more : the rows that it stands for as well, in their order
    at_least : whether rows that were not looked at may belong to it too
    """

    rank: int
    first: _Row
    more: tuple[_Row, ...] = ()
    at_least: bool = False

    @property
    def rows(self) -> tuple[_Row, ...]:
        """All of them."""
        return (self.first, *self.more)


def folded(
    rows: Sequence[_Row],
    figures: Callable[[_Row], Sequence[float]],
    *,
    kind: Callable[[_Row], Hashable] | None = None,
    shown: Callable[[_Row], bool] | None = None,
    within: float = FOLDED_DB,
) -> list[Fold[_Row]]:
    """Return the rows in their order, those that nearly equal one before them folded into it.

    Parameters
    ----------
    rows : in the order in which they are shown
    figures : what must be near, all of one length [dB]; not a number and infinity equal themselves
    kind : what must be the same
    shown : what is a row of its own in any case
    within : how far figures may be from those of the row that is shown [dB]

    Returns
    -------
    every row is in just one fold
    """
    if not rows:
        return []
    table = np.array([figures(row) for row in rows], dtype=float)
    kinds = [kind and kind(row) for row in rows]
    free = np.array([shown is None or not shown(row) for row in rows])
    left = np.ones(len(rows), dtype=bool)
    folds = []
    for number, row in enumerate(rows):
        if not left[number]:
            continue
        left[number] = False
        candidates = np.flatnonzero(left & free)
        candidates = candidates[candidates > number]
        near = candidates[_near(table[candidates], table[number], within)]
        members = [i for i in near.tolist() if kinds[i] == kinds[number]]
        left[members] = False
        folds.append(Fold(number + 1, row, tuple(rows[i] for i in members)))
    return folds


def unfolded(rows: Sequence[_Row]) -> list[Fold[_Row]]:
    """Return every row as one of its own."""
    return [Fold(number, row) for number, row in enumerate(rows, 1)]


def as_level(frequency: float | None) -> float:
    """Return a frequency as a figure in which 1 % counts as 0.1 dB; not a number for none."""
    return math.nan if frequency is None else 10 * math.log(frequency)


def folds_hide(folds: Collection[Fold[_Row]]) -> bool:
    """Return whether any row stands for others."""
    return any(fold.more for fold in folds)


def _near(table: FloatArray, figures: FloatArray, within: float) -> np.ndarray:
    """Return which rows of a table are near some figures, shape (rows,)."""
    with np.errstate(invalid="ignore"):
        near = np.abs(table - figures) <= within + _SLACK_DB
    same = (table == figures) | (np.isnan(table) & np.isnan(figures))
    found: np.ndarray = (near | same).all(axis=1)
    return found
