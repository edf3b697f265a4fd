"""Which quantities matter: rank correlations, what each does alone, and the corners of the box."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.states.drawn import METRICS, DrawSolver
from sigsim.states.varied import Varied

if TYPE_CHECKING:
    from sigsim.board.state import On
    from sigsim.physics.arrays import FloatArray

# Under this spread [dB or Hz] a metric does not vary; what differs is rounding.
_STILL: Final = 1e-9
LEAST_ROWS: Final = 3
# Weaker correlations than this are chance.
_LEAST_CORRELATION: Final = 0.05
_MOST_LEADING: Final = 5
RANKED: Final = 10


@dataclass(frozen=True)
class Influence:
    """What one quantity does to the treble loss.

    Attributes
    ----------
    quantity : the quantity
    correlations : rank correlation (Spearman's ρ, -1 to 1) by metric; 0 where nothing varies
    low, high : treble loss with this quantity alone at the low and the high end [dB]
    """

    quantity: Varied
    correlations: dict[str, float]
    low: float
    high: float

    @property
    def correlation(self) -> float:
        """Of the treble loss."""
        return self.correlations["treble_loss"]


def leading(influences: Sequence[Influence]) -> list[Influence]:
    """Return the first of what matters, without what may be chance."""
    return [i for i in influences[:_MOST_LEADING] if abs(i.correlation) >= _LEAST_CORRELATION]


@dataclass(frozen=True)
class Bound:
    """The ends of a metric at the corners of the tolerance box.

    Attributes
    ----------
    lowest, highest : [dB] or [Hz]; not a number for none
    """

    lowest: float
    highest: float


def rank_correlations(u: FloatArray, metrics: Mapping[str, FloatArray]) -> dict[str, FloatArray]:
    """Return Spearman's rank correlation of every quantity with each metric.

    Parameters
    ----------
    u : places within the tolerances, shape (rows, quantities)
    metrics : values by name, each of shape (rows,)

    Returns
    -------
    by metric, shape (quantities,); draws without a corner count as higher than any, draws without
    a resonance are left out
    """
    ranks = centred_ranks(u)
    found = {}
    for name, values in metrics.items():
        ordered = np.where(np.isnan(values), np.inf, values) if name == "corner" else values
        kept = ~np.isnan(ordered)
        if not _varies(ordered[kept]):
            found[name] = np.zeros(u.shape[1])
            continue
        own = ranks if kept.all() else centred_ranks(u[kept])
        found[name] = _correlation(own, centred_ranks(ordered[kept, None])[:, 0])
    return found


def _varies(values: FloatArray) -> bool:
    """Return whether values differ by more than rounding, and are enough to be ranked."""
    if values.size < LEAST_ROWS:
        return False
    finite = values[np.isfinite(values)]
    if finite.size < values.size:
        return finite.size > 0
    return bool(np.ptp(values) > _STILL)


def centred_ranks(columns: FloatArray) -> FloatArray:
    """Return the rank of each value in its column, less the mean rank; ties share theirs.

    Parameters
    ----------
    columns : without what is not a number, shape (rows, columns)
    """
    # As `scipy.stats.rankdata`, whose import takes longer than all else that a spread needs.
    ranks = np.array([_ranks_of(values) for values in np.ascontiguousarray(columns.T)])
    centred: FloatArray = ranks.T - (len(columns) + 1) / 2
    return centred


def _ranks_of(values: FloatArray) -> FloatArray:
    """Return the rank of each value, from 1; equal ones get the mean of the ranks they take up."""
    order = np.argsort(values)
    in_order = values[order]
    starts = np.flatnonzero(np.append(True, in_order[1:] != in_order[:-1]))
    ends = np.append(starts[1:], values.size)
    ranks: FloatArray = np.empty(values.size)
    ranks[order] = np.repeat((starts + 1 + ends) / 2, ends - starts)
    return ranks


def _correlation(columns: FloatArray, ranks: FloatArray) -> FloatArray:
    """Return Spearman's ρ of each column of ranks with other ranks: Pearson's of the ranks.

    Both have the mean 0. C. Spearman, *American Journal of Psychology* 15 (1904) 72.
    """
    lengths = np.sqrt(np.sum(columns**2, axis=0) * np.sum(ranks**2))
    rho: FloatArray = (ranks @ columns) / np.where(lengths > 0, lengths, 1.0)
    return rho


def influences(
    solver: DrawSolver, on: On, correlations: Mapping[str, FloatArray], count: int = RANKED
) -> tuple[Influence, ...]:
    """Return the quantities that matter most for the treble loss, the most important first.

    Parameters
    ----------
    solver : of the board
    on : the state
    correlations : from `rank_correlations`
    count : how many
    """
    order = by_influence(correlations["treble_loss"])[:count]
    u = np.zeros((2 * len(order), len(solver.quantities)))
    for row, column in enumerate(order.tolist()):
        u[2 * row : 2 * row + 2, column] = -1, 1
    alone = solver.values(_chunks(u, solver.rows), on, "treble_loss").reshape(-1, 2)
    return tuple(
        Influence(
            solver.quantities[column],
            {name: float(rho[column]) for name, rho in correlations.items()},
            float(low),
            float(high),
        )
        for column, (low, high) in zip(order.tolist(), alone, strict=True)
    )


def by_influence(correlation: FloatArray) -> np.ndarray:
    """Return quantities in falling order of their correlation's size, ties in the board's order."""
    return np.argsort(-np.abs(correlation), kind="stable")


def bounds(
    solver: DrawSolver,
    on: On,
    correlations: Mapping[str, FloatArray],
    drawn: Mapping[str, FloatArray],
    most: int,
) -> dict[str, Bound]:
    """Return the ends of every metric at the corners of the tolerance box.

    Parameters
    ----------
    solver : of the board
    on : the state
    correlations : from `rank_correlations`
    drawn : the values of the metrics that draws gave, each of shape (rows,)
    most : how many quantities are tried in every combination of their ends

    Returns
    -------
    by metric. Every corner of the `most` quantities that matter most for it is solved twice, all
    others at the ends that their correlation says raise it and at those that lower it. No draw
    lies outside.
    """
    found = {}
    for name in METRICS:
        corners = corner_places(correlations[name], most, solver.rows)
        values = solver.values(corners, on, name)
        found[name] = _ends(name, np.concatenate((values, drawn[name])))
    return found


def _chunks(u: FloatArray, rows: int) -> Iterator[FloatArray]:
    for start in range(0, len(u), rows):
        yield u[start : start + rows]


def corner_places(correlation: FloatArray, most: int, rows: int) -> Iterator[FloatArray]:
    """Yield corners of the tolerance box, some at a time, shape (corners, quantities).

    Parameters
    ----------
    correlation : of each quantity with the metric
    most : how many quantities are tried in every combination
    rows : how many corners to yield at a time
    """
    order = by_influence(correlation)
    first, others = order[:most], order[most:]
    for side in (1.0, -1.0) if others.size else (1.0,):
        for start in range(0, 1 << first.size, rows):
            numbers = np.arange(start, min(start + rows, 1 << first.size))
            places = np.zeros((numbers.size, correlation.size))
            places[:, first] = 2.0 * (numbers[:, None] >> np.arange(first.size) & 1) - 1.0
            places[:, others] = side * np.sign(correlation[others])
            yield places


def _ends(name: str, values: FloatArray) -> Bound:
    if name == "corner":
        values = np.where(np.isnan(values), np.inf, values)
    values = values[~np.isnan(values)]
    if not values.size:
        return Bound(np.nan, np.nan)
    return Bound(float(values.min()), float(values.max()))
