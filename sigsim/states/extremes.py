"""Between which gains all states lie at each of many frequencies."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.states.board_graph import board_graph
from sigsim.states.disks import enclosures
from sigsim.states.rows import NEPER_DB, Criteria, scores
from sigsim.states.sweep import NO_SLACK, Sweep, best_of

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.physics.arrays import FloatArray
    from sigsim.states.graph import Graph

# So many rows are walked at all frequencies at once sooner than compared at each.
_FEW_ROWS: Final = 2048
# Frequencies compared at once, in so many groups of disks, and rows kept at a node then.
_TOGETHER: Final = 40
_GROUPS: Final = 4
_MOST_ROWS: Final = 512


def extremes(
    board: Board, frequency: FloatArray, fixed: Mapping[str, bool] | None = None
) -> tuple[FloatArray, FloatArray]:
    """Return the least and the largest gain [dB] of all states at each frequency.

    States through which nothing at all comes are left out.

    Parameters
    ----------
    board : the board
    frequency : [Hz], shape (frequency,)
    fixed : things held on or off

    Returns
    -------
    shape (frequency,) each; minus infinity where every state is silent
    """
    graph = board_graph(board, frequency, fixed=fixed)
    if graph.silent:
        nothing = np.full(frequency.size, -np.inf)
        return nothing, nothing
    with np.errstate(all="ignore"):
        least, largest = (-sign * NEPER_DB * _ends(graph, sign) for sign in (1.0, -1.0))
    return least, largest


def _ends(graph: Graph, sign: float) -> FloatArray:
    """Return the extreme logarithms of 1/|H| times a sign."""
    columns = graph.start.shape[1]
    if graph.most_rows() <= _FEW_ROWS:
        return _walked(Sweep(graph, None, Criteria.of(sign * np.eye(columns))), _FEW_ROWS)[0]
    step = min(columns, _TOGETHER)
    parts = [np.arange(start, min(start + step, columns)) for start in range(0, columns, step)]
    return np.concatenate([_compared(graph.columns(part), sign) for part in parts])


def _walked(sweep: Sweep, most: int) -> tuple[FloatArray, float]:
    """Return the largest scores at the end, and by how much they may be too small."""
    rows = sweep.rows(most)[-1]
    if rows is None:
        return np.full(sweep.criteria.scores, -np.inf), 0.0
    found = scores(rows, sweep.end(), sweep.criteria).max(axis=(0, 1))
    return found, float(rows.slack.max())


def _compared(graph: Graph, sign: float) -> FloatArray:
    """Return the extremes of some columns; one by one where what matters differs too much."""
    columns = graph.start.shape[1]
    criteria = Criteria.of(sign * np.eye(columns))
    straight = Sweep(graph, enclosures(graph, most=_GROUPS), criteria)
    found, slack = _walked(straight, _MOST_ROWS)
    if slack <= NO_SLACK:
        return found
    if columns > 1:
        ones = [graph.columns(np.array([column])) for column in range(columns)]
        return np.concatenate([_compared(one, sign) for one in ones])
    turned = graph.turned()
    ways, _ = best_of(straight, Sweep(turned, enclosures(turned), criteria), 1, np.inf)
    return np.array([ways[0].score if ways else -np.inf])
