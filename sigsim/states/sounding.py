"""The best states by a measure among those that can be heard at all, where some cannot.

Whether a state is silent shows only at its end: several segments, each of which lets something
through, may together leave nothing. So at each vertex those ways are kept that can still be part of
an answer: a way is dropped where enough others are at least as good by the measure and at least as
loud, and where nothing that may follow makes it heard. Louder than any rest could silence is all
alike.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from sigsim.metrics import SILENT_DB

if TYPE_CHECKING:
    from typing import TypeAlias

    from numpy.typing import NDArray

    from sigsim.physics.arrays import FloatArray

    Index: TypeAlias = NDArray[np.int64]

# Ways kept at a vertex; where more could matter, the result is not proven.
_MOST_WAYS: Final = 256
# Ways compared at once: of thousands the first few hundred are often enough.
_AT_ONCE: Final = 512


class Edges(NamedTuple):
    """The segments that end at one vertex, as rows.

    Attributes
    ----------
    starts : vertex at which each starts
    scores : of each; the largest sum is wanted, minus infinity for none
    levels : of the board, and of the reference where it is followed [dB], shape (rows, 1 or 2)
    """

    starts: Index
    scores: FloatArray
    levels: FloatArray


class Ways(NamedTuple):
    """The best ways to one vertex, the best first.

    Attributes
    ----------
    scores, levels : the sums along each, as in `Edges`
    starts, ranks, rows : the vertex before, which of its ways, and which edge leads on
    """

    scores: FloatArray
    levels: FloatArray
    starts: Index
    ranks: Index
    rows: Index


class Heard(NamedTuple):
    """Ways to all vertices, the last being the end, and whether none was given up."""

    ways: list[Ways]
    exact: bool


def range_of_levels(into: Sequence[Edges]) -> tuple[FloatArray, FloatArray]:
    """Return the least and the largest level [dB] of all states, shape (1 or 2,) each.

    Segments through which nothing at all comes are left out. Not a number where there is no other.
    """
    ends = []
    for sign in (1.0, -1.0):
        best = np.zeros((len(into) + 1, into[0].levels.shape[1]))
        for vertex, edges in enumerate(into, 1):
            sums = best[edges.starts] + edges.levels
            sums = np.where(np.isfinite(sums), sign * sums, np.inf)
            best[vertex] = sign * sums.min(axis=0, initial=np.inf)
        ends.append(np.where(np.isfinite(best[-1]), best[-1], np.nan))
    return ends[0], ends[1]


def heard_ways(into: Sequence[Edges], count: int) -> Heard:
    """Return the ways to each vertex that matter for the best states that can be heard.

    Parameters
    ----------
    into : by vertex, from the first after the instrument
    count : how many states are wanted

    Returns
    -------
    Heard; at the last vertex only what can be heard, at most `count`, none where all is silent
    """
    least, most = _rests(into)
    nothing = np.zeros(1, np.int64)
    first = Ways(np.zeros(1), np.zeros((1, into[0].levels.shape[1])), nothing, nothing, nothing)
    ways, exact = [first], True
    for vertex, edges in enumerate(into, 1):
        found = _candidates(edges, ways)
        heard = (found.levels + most[vertex] > SILENT_DB).all(axis=1) & (found.scores > -np.inf)
        found = _some(found, np.flatnonzero(heard))
        # From here on nothing can silence it: as loud as can be.
        safe = found.levels + least[vertex] > SILENT_DB
        found = found._replace(levels=np.where(safe, np.inf, found.levels))
        end = vertex == len(into)
        kept, all_kept = _undominated(found, count, count if end else max(count, _MOST_WAYS))
        exact = exact and (all_kept or end)
        ways.append(_some(found, kept))
    return Heard(ways, exact)


def _rests(into: Sequence[Edges]) -> tuple[list[FloatArray], list[FloatArray]]:
    """Return the least and the largest level [dB] that may follow each vertex."""
    width = into[0].levels.shape[1]
    least = [np.full(width, np.inf) for _ in range(len(into) + 1)]
    most = [np.full(width, -np.inf) for _ in range(len(into) + 1)]
    least[-1], most[-1] = np.zeros(width), np.zeros(width)
    for vertex in range(len(into), 0, -1):
        edges = into[vertex - 1]
        levels = np.nan_to_num(edges.levels, nan=-np.inf, posinf=np.inf, neginf=-np.inf)
        with np.errstate(invalid="ignore"):
            sums = (levels + rest[vertex] for rest in (least, most))
            # Infinite and nothing together are no number: nothing follows.
            low, high = (np.where(np.isnan(ends), -np.inf, ends) for ends in sums)
        for start in np.unique(edges.starts).tolist():
            rows = (edges.starts == start) & (edges.scores > -np.inf)
            least[start] = np.fmin(least[start], low[rows].min(axis=0, initial=np.inf))
            most[start] = np.fmax(most[start], high[rows].max(axis=0, initial=-np.inf))
    return least, most


def _candidates(edges: Edges, ways: Sequence[Ways]) -> Ways:
    """Return every way to a vertex: each edge behind each way to its start."""
    parts = []
    for start in np.unique(edges.starts).tolist():
        before, rows = ways[start], np.flatnonzero(edges.starts == start)
        ranks = np.arange(len(before.scores))
        row, rank = (grid.ravel() for grid in np.meshgrid(rows, ranks, indexing="ij"))
        with np.errstate(invalid="ignore"):
            levels = before.levels[rank] + edges.levels[row]
        parts.append(
            Ways(
                before.scores[rank] + edges.scores[row],
                levels,
                np.full(row.size, start),
                rank,
                row,
            )
        )
    return Ways(*(np.concatenate(columns) for columns in zip(*parts, strict=True)))


def _undominated(ways: Ways, count: int, most: int) -> tuple[Index, bool]:
    """Return which ways fewer than `count` others beat, the best first, and whether that is all."""
    order = np.argsort(-ways.scores, kind="stable")
    kept = np.empty(0, np.int64)
    for start in range(0, order.size, _AT_ONCE):
        rest = order[start : start + _AT_ONCE]
        beaten = _not_below(ways.levels[kept], ways.levels[rest]).sum(axis=0)
        rest, beaten = rest[beaten < count], beaten[beaten < count]
        while rest.size:
            if kept.size == most:
                return kept, False
            kept = np.append(kept, rest[0])
            beaten = beaten + _not_below(ways.levels[rest[:1]], ways.levels[rest])[0]
            left = np.flatnonzero(beaten[1:] < count) + 1
            rest, beaten = rest[left], beaten[left]
    return kept, True


def _not_below(some: FloatArray, others: FloatArray) -> NDArray[np.bool_]:
    """Return which of some levels are nowhere below which of others, shape (some, others)."""
    found = np.ones((len(some), len(others)), bool)
    for one, other in zip(some.T, others.T, strict=True):
        found &= one[:, None] >= other
    return found


def _some(ways: Ways, rows: Index) -> Ways:
    scores, levels, starts, ranks, edges = ways
    return Ways(scores[rows], levels[rows], starts[rows], ranks[rows], edges[rows])
