"""How measures spread over states drawn at random, with what chance leaves open.

Each different state is as likely as any other, also one that is silent.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from sigsim.metrics import sounds
from sigsim.states.board_graph import board_graph
from sigsim.states.distinct import distinct_states
from sigsim.states.followed import Lot
from sigsim.states.levels import Levelled
from sigsim.states.losses import Losses
from sigsim.states.measure import Measure, Measures
from sigsim.states.rows import NEPER_DB
from sigsim.states.search import Search

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.physics.arrays import FloatArray
    from sigsim.states.followed import Held
    from sigsim.states.graph import Flags

SAMPLE: Final = 2048
# What is drawn for a spread: so many values of p and q over all nodes, half a second's worth.
_WORK: Final = 1 << 24
_LEAST_DRAWN, _MOST_DRAWN = 4096, 1 << 16
# A quantile's interval misses the true one with this probability.
_MISSED: Final = 1e-3
# From fewer values than these no interval is read; so many are drawn again.
_FEW: Final = 512


@dataclass(frozen=True)
class Sample:
    """States drawn at random with their curves and measures.

    Attributes
    ----------
    on : what is on in each
    gain : [dB], shape (states, frequency)
    measures : [dB], shape (measures, states); as `Levelled.heard` returns them
    """

    on: tuple[frozenset[str], ...]
    gain: FloatArray
    measures: FloatArray


def drawn_states(
    board: Board,
    measures: Sequence[Measure],
    frequency: FloatArray,
    *,
    count: int = SAMPLE,
    seed: int = 1,
    fixed: Held | None = None,
) -> Sample:
    """Draw states, each different state as likely as any other, and solve them.

    Parameters
    ----------
    board : the board
    measures : what to take of each
    frequency : of the curves [Hz], shape (frequency,)
    count : how many
    seed : of the random numbers
    fixed : things held on or off

    Returns
    -------
    Sample
    """
    fixed = dict(fixed or {})
    levelled = Levelled(measures)
    columns = Measures(levelled.columns)
    reference = columns.reference if columns.follow_ideal else None
    own = columns.frequency.size
    graph = board_graph(
        board,
        np.concatenate((frequency, columns.frequency)),
        None if reference is None else columns.frequency,
        fixed,
        reference or "ideal",
    )
    lot = Lot(graph, board.switches(), fixed, np.random.default_rng(seed))
    rows = lot.heard(count, distinct_states(board, fixed))
    gain = np.full((count, graph.start.shape[1]), -np.inf)
    on = np.zeros((count, len(lot.switches)), dtype=bool)
    with np.errstate(all="ignore"):
        if rows.any():
            nepers, on[rows] = lot.drawn(int(np.count_nonzero(rows)))
            gain[rows] = -NEPER_DB * nepers
        if not rows.all():
            on[~rows] = lot.silent(board, reference, int(np.count_nonzero(~rows)))
        taken = gain[:, frequency.size : frequency.size + own]
        ideal = np.zeros_like(taken) if reference is None else gain[:, frequency.size + own :]
        values = columns.of(taken, ideal) + columns.offsets(board)
    return Sample(lot.names(on), gain[:, : frequency.size].copy(), levelled.heard(values.T)[0])


def drawn_losses(
    search: Search,
    measure: Measure,
    limits: Sequence[float],
    shares: Sequence[float],
    seed: int = 1,
    count: int | None = None,
) -> Losses:
    """Return how a measure spreads over states drawn at random.

    Parameters
    ----------
    search : of the board by this measure
    measure : which one
    limits : below which states are counted [dB]
    shares : for the quantiles [-]
    seed : of the random numbers
    count : how many are drawn; as many as half a second allows, if not given

    Returns
    -------
    Losses; each quantile and each median is within `error` with a confidence of 99.9 %
    """
    if count is None:
        work = search.graph.nodes * search.graph.start.shape[1]
        count = min(max(_WORK // work, _LEAST_DRAWN), _MOST_DRAWN)
    values, on, switches = _values(search, measure, seed, count)
    heard = np.isfinite(values)
    told = np.sort(values[heard])
    read = [_quantile(told, share) for share in shares]
    medians, errors = {}, [quantile.error for quantile in read]
    for number, name in enumerate(switches):
        both = []
        for is_on in (False, True):
            some = values[heard & (on[:, number] == is_on)]
            if some.size < _FEW:
                held = Search(search.board, [measure], {**search.fixed, name: is_on})
                some, _, _ = _values(held, measure, seed, 2 * _FEW)
                some = some[np.isfinite(some)]
            both.append(_quantile(np.sort(some), 0.5))
        if all(math.isfinite(one.value) for one in both):
            medians[name] = (both[0].value, both[1].value)
            errors += [one.error for one in both]
    return Losses(
        count,
        count - told.size,
        tuple(int(np.searchsorted(told, limit)) for limit in limits),
        tuple(quantile.value for quantile in read),
        medians,
        max((e for e in errors if not math.isnan(e)), default=0.0),
        drawn=True,
    )


class _Quantile(NamedTuple):
    """A quantile, and by how much the true one may be off [dB]."""

    value: float
    error: float


def _quantile(values: FloatArray, share: float) -> _Quantile:
    """Return a quantile of values in order, with what lies between two of them by chance.

    How many of the values drawn do not exceed the true quantile has a binomial distribution,
    whatever the values are.
    """
    size = values.size
    if not size:
        return _Quantile(math.nan, math.nan)
    chance = np.cumsum(_binomial(size, share))
    low = int(np.searchsorted(chance, _MISSED / 2))
    high = int(np.searchsorted(chance, 1 - _MISSED / 2))
    value = float(values[max(1, math.ceil(share * size)) - 1])
    below = value - values[low - 1] if low else math.inf
    above = values[high] - value if high < size else math.inf
    return _Quantile(value, float(max(below, above)))


def _binomial(size: int, share: float) -> FloatArray:
    """Return how likely each number of successes is, shape (size + 1,)."""
    with np.errstate(divide="ignore", invalid="ignore"):
        factorial = np.concatenate(([0.0], np.cumsum(np.log(np.arange(1, size + 1)))))
        number = np.arange(size + 1)
        ways = factorial[-1] - factorial - factorial[::-1]
        one, other = number * np.log(share), number[::-1] * np.log1p(-share)
        one[0], other[-1] = 0.0, 0.0
        chance: FloatArray = np.exp(ways + one + other)
    return chance


def _values(
    search: Search, measure: Measure, seed: int, count: int
) -> tuple[FloatArray, Flags, tuple[str, ...]]:
    """Return a measure of drawn states [dB], what is on in each, and which things vary.

    Not a number stands for a silent state.
    """
    values, fixed = np.full(count, np.nan), search.fixed
    varying = tuple(name for name in search.board.switches() if name not in fixed)
    lot = Lot(search.graph, varying, fixed, np.random.default_rng(seed))
    on = np.zeros((count, len(varying)), dtype=bool)
    if search.graph.silent:
        return values, on, varying
    rows = lot.heard(count, distinct_states(search.board, fixed))
    if rows.any():
        with np.errstate(all="ignore"):
            nepers, on[rows] = lot.drawn(int(np.count_nonzero(rows)))
            weights = search.weights(measure)
            kept = np.flatnonzero(weights)
            found = nepers[:, kept] @ weights[kept] * NEPER_DB + measure.offset(search.board)
            loud = sounds(-NEPER_DB * nepers[:, list(search.levels)]).all(axis=1)
        values[rows] = np.where(loud, found, np.nan)
    return values, on, varying
