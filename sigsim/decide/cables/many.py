"""The worst treble loss of many variants of one board at once, exactly.

A variant differs in values only (a length, picofarads per metre), so all variants are the same
graph. Their values lie side by side as columns, and one walk keeps what is the worst of any.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Final, TypeAlias

import numpy as np

from sigsim.metrics import decibels, over_level, sounds
from sigsim.states.board_graph import board_graph
from sigsim.states.circuit import Circuit
from sigsim.states.disks import enclosures
from sigsim.states.measure import treble
from sigsim.states.quiet import can_be_silent
from sigsim.states.rows import NEPER_DB, Criteria, scores
from sigsim.states.search import ideal_grid, worst_state
from sigsim.states.sweep import NO_SLACK, Sweep

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.metrics import Basis
    from sigsim.physics.arrays import FloatArray

    Spread: TypeAlias = Callable[[FloatArray], FloatArray]
    Make: TypeAlias = Callable[[Spread], Board]

# Variants that are walked together, so that what one of them needs costs the others little.
_TOGETHER: Final = 32
# So few rows are walked sooner than compared.
_FEW_ROWS: Final = 160
# Groups of disks at a node: with many columns side by side fewer are quicker.
_GROUPS: Final = 4
# Rows kept at a node; where more may matter, each variant is searched alone.
_MOST_ROWS: Final = 256


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
    parts = [slice(i, min(i + _TOGETHER, count)) for i in range(0, count, _TOGETHER)]
    return np.concatenate([_walked(make, part, basis) for part in parts])


def _walked(make: Make, part: slice, basis: Basis) -> FloatArray:
    """Return the worst losses of some variants."""
    count, f = part.stop - part.start, basis.frequency
    board = make(lambda values: np.repeat(values[part], f.size))
    frequency = np.tile(f, count)
    ideal = ideal_grid(frequency, basis.reference)
    with np.errstate(all="ignore"):
        graph = board_graph(board, frequency, ideal, reference=basis.reference)
        offset = _offset(board, basis, count)
        if graph.silent:
            return np.full(count, np.nan)
        sides = 1 if ideal is None else 2
        levels = np.arange(sides * count) * f.size + f.size - 1
        if not can_be_silent(graph, tuple(levels.tolist())):
            of_one = np.reshape(treble(basis).column_weights(), (sides, f.size))
            weights = np.einsum("sf,vw->svfw", of_one, np.eye(count)).reshape(-1, count)
            disks = None if graph.most_rows() <= _FEW_ROWS else enclosures(graph, most=_GROUPS)
            sweep = Sweep(graph, disks, Criteria.of(weights))
            rows = sweep.rows(_MOST_ROWS)[-1]
            if rows is not None and rows.slack.max() <= NO_SLACK:
                worst = scores(rows, sweep.end(), sweep.criteria).max(axis=(0, 1))
                found: FloatArray = worst * NEPER_DB + offset
                return found
    # What is silent, or what matters, differs: one search after another.
    return np.array(
        [worst_state(_single(make, i), basis).value for i in range(part.start, part.stop)]
    )


def _single(make: Make, index: int) -> Board:
    return make(lambda values: values[index : index + 1])


def _offset(board: Board, basis: Basis, count: int) -> FloatArray:
    """Return what the lead alone adds to each variant's loss [dB], where that is the reference."""
    if basis.reference != "direct":
        return np.zeros(count)
    frequency = np.tile(basis.frequency, count)
    alone = decibels(Circuit(board, frequency).reference((), "direct"))
    gain = np.broadcast_to(alone, frequency.shape).reshape(count, -1)
    return np.where(sounds(gain[:, -1]), over_level(gain), np.nan)
