"""The worst treble loss of many variants of one board at once, exactly.

A variant differs in values only (a length, picofarads per metre), so all variants take the same
walk through the chain. Their values lie side by side along the frequency axis; the best paths over
the vertices of `segments` are then followed for all variants together.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Final, TypeAlias

import numpy as np

from sigsim.metrics import decibels, over_level, sounds
from sigsim.states.circuit import Circuit
from sigsim.states.ranked import MOST_ROWS, worst_state
from sigsim.states.segments import TooManyRuns, Walk, ideal_grid

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.metrics import Basis
    from sigsim.physics.arrays import FloatArray
    from sigsim.states.segments import Arrival

    Spread: TypeAlias = Callable[[FloatArray], FloatArray]
    Make: TypeAlias = Callable[[Spread], Board]

# Complex numbers held by one array of a walk: 16 MB.
_MOST_CELLS: Final = 1 << 20


def worst_losses(make: Make, count: int, basis: Basis) -> FloatArray:
    """Return the worst treble loss over all states [dB] of each of `count` variants.

    Parameters
    ----------
    make : makes the board; it is given a function that spreads values of the variants, shape
        (count,), over the columns of a walk, and uses it for every value that differs
    count : of variants, at least 1
    basis : what a loss is measured against and over

    Returns
    -------
    shape (count,); not a number where no state gives any sound
    """
    try:
        rows = _rows(make(lambda values: values[:1]))
        size = max(1, _MOST_CELLS // (rows * basis.frequency.size))
        parts = [slice(i, min(i + size, count)) for i in range(0, count, size)]
        return np.concatenate([_walked(make, part, basis) for part in parts])
    except TooManyRuns:
        # More passive switches in one run than a walk carries: one search after another.
        return np.array([worst_state(_single(make, i), basis).value for i in range(count)])


def _single(make: Make, index: int) -> Board:
    return make(lambda values: values[index : index + 1])


def _rows(board: Board) -> int:
    """Return how many segments are open at once, at most."""
    walk = Walk(board, np.array([1000.0]), most_rows=MOST_ROWS)
    return max(len(arrival.trails) for arrival in walk.arrivals())


def _walked(make: Make, part: slice, basis: Basis) -> FloatArray:
    count, f = part.stop - part.start, basis.frequency
    board = make(lambda values: np.repeat(values[part], f.size))
    frequency = np.tile(f, count)
    walk = Walk(
        board,
        frequency,
        ideal_grid(frequency, basis.reference),
        most_rows=MOST_ROWS,
        reference=basis.reference,
    )
    scores, least, most = [np.zeros(count)], [np.zeros((2, count))], [np.zeros((2, count))]
    for arrival in walk.arrivals():
        with np.errstate(invalid="ignore"):
            lost = -arrival.gain if basis.reference == "direct" else arrival.ideal - arrival.gain
            loss = over_level(lost.reshape(-1, count, f.size))
        level = _levels(arrival, basis, count)
        # What lets nothing through has no loss.
        heard = ~np.isnan(loss) & (level > -np.inf).all(axis=1)
        loss = np.where(heard, loss, -np.inf)
        scores.append((np.stack(scores)[arrival.starts] + loss).max(axis=0))
        for ends, sign in ((least, 1.0), (most, -1.0)):
            with np.errstate(invalid="ignore"):  # none there, and nothing let through here
                sums = np.stack(ends)[arrival.starts] + level
            ends.append(sign * np.where(np.isfinite(sums), sign * sums, np.inf).min(axis=0))
    total = scores[-1]
    if basis.reference == "direct":
        alone = np.broadcast_to(
            decibels(Circuit(board, frequency).reference((), "direct")), frequency.shape
        )
        with np.errstate(invalid="ignore"):
            total = total + over_level(alone.reshape(count, f.size))
        total = np.where(sounds(alone.reshape(count, f.size)[:, -1]), total, np.nan)
    found: FloatArray = np.where(np.isneginf(total) | ~sounds(most[-1]).all(axis=0), np.nan, total)
    # Some states are silent only as a whole: one search after another.
    mixed = np.flatnonzero(~np.isnan(found) & ~sounds(least[-1]).all(axis=0)) + part.start
    for index in mixed.tolist():
        found[index - part.start] = worst_state(_single(make, index), basis).value
    return found


def _levels(arrival: Arrival, basis: Basis, count: int) -> FloatArray:
    """Return the level of segments and of their reference [dB], shape (rows, 2, count)."""
    of_board = arrival.gain.reshape(-1, count, basis.frequency.size)[..., -1]
    of_reference = of_board
    if basis.reference != "direct":
        of_reference = arrival.ideal.reshape(-1, count, basis.frequency.size)[..., -1]
    return np.stack((of_board, of_reference), axis=1)
