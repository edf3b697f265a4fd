"""States drawn at random, each different state as likely as any other, and solved all at once.

All drawn states go through the graph of the board together: at each node every one takes one of
the options that leave it, each option as likely as the states are many that it leads to.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.metrics import sounds
from sigsim.states.board_graph import board_graph
from sigsim.states.circuit import Circuit
from sigsim.states.distinct import count_states, distinct_states
from sigsim.states.levels import LEVEL, Levelled
from sigsim.states.losses import Losses
from sigsim.states.measure import Measure, Measures
from sigsim.states.path import path, reference_path
from sigsim.states.rows import NEPER_DB
from sigsim.states.search import Search

if TYPE_CHECKING:
    from typing import TypeAlias

    from sigsim.board.model import Board
    from sigsim.items.base import Item
    from sigsim.metrics import Reference
    from sigsim.physics.arrays import ComplexArray, FloatArray
    from sigsim.states.graph import Bundle, Choice, Flags, Graph, Index

    Held: TypeAlias = Mapping[str, bool]

SAMPLE: Final = 2048
# What is drawn for a spread: so many values of p and q over all nodes, half a second's worth.
_WORK: Final = 1 << 24
# Values of p that are followed at once: few enough for the processor's cache.
_AT_ONCE: Final = 1 << 16
_LEAST_DRAWN, _MOST_DRAWN = 4096, 1 << 16
# A quantile's interval misses the true one with this probability.
_MISSED: Final = 1e-3
# From fewer values than these no interval is read; so many are drawn again.
_FEW: Final = 512
# Between volts and amperes [Ω]: about what a source shows. Any value will do.
_R: Final = 5e4


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


def states_behind(graph: Graph, fixed: Held) -> list[int]:
    """Return how many states each node of a graph has behind it, the first one all of them."""
    found = [0] * (graph.nodes - 1) + [1]
    for bundle in reversed(graph.bundles):
        ways = sum(count_states(choice.free, fixed) for choice in bundle.choices)
        found[bundle.tail] += ways * found[bundle.head]
    return found


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
    lot = _Lot(graph, board.switches(), fixed, np.random.default_rng(seed))
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
    lot = _Lot(search.graph, varying, fixed, np.random.default_rng(seed))
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


class _Lot:
    """Draws states of a graph.

    Parameters
    ----------
    graph : of a board
    switches : of which it is told whether they are on
    fixed : things held on or off
    generator : of the random numbers
    """

    def __init__(
        self, graph: Graph, switches: Sequence[str], fixed: Held, generator: np.random.Generator
    ) -> None:
        self.graph, self.switches, self.fixed = graph, tuple(switches), fixed
        self.generator = generator
        self.behind = states_behind(graph, fixed)
        self._number = {name: number for number, name in enumerate(self.switches)}

    def heard(self, count: int, total: int) -> Flags:
        """Return which of so many drawn states are in the graph, of a total of states."""
        heard: Flags = self.generator.random(count) < self.behind[0] / total
        return heard

    def drawn(self, count: int) -> tuple[FloatArray, Flags]:
        """Return 1/|H| [nepers] of drawn states, shape (states, columns), and what is on."""
        step = max(1, _AT_ONCE // self.graph.start.shape[1])
        sizes = [min(step, count - start) for start in range(0, count, step)]
        heights, on = zip(*(self._some(size) for size in sizes), strict=True)
        return np.concatenate(heights), np.concatenate(on)

    def _some(self, count: int) -> tuple[FloatArray, Flags]:
        graph, leaving = self.graph, self.graph.leaving()
        p, q = (np.repeat(part[None], count, axis=0) for part in graph.start)
        height = np.zeros(p.shape)
        on = np.zeros((count, len(self.switches)), dtype=bool)
        node = np.zeros(count, dtype=np.int64)
        for tail in range(graph.nodes - 1):
            here = np.flatnonzero(node == tail)
            for bundle, option, rows in self._taken(leaving[tail], here):
                matrix, size = _sized(bundle.matrices[:, option])
                A, B, C, D = matrix
                p[rows], q[rows] = p[rows] * A + q[rows] * C, p[rows] * B + q[rows] * D
                height[rows] += size
                node[rows] = bundle.head
                self._switched(on, rows, bundle.choices[option])
        r, s = graph.end
        height += np.log(np.abs(p * r + q * s))
        return height, on

    def _taken(self, bundles: Sequence[Bundle], rows: Index) -> Iterator[tuple[Bundle, int, Index]]:
        """Yield the options that leave a node with the drawn states that take them."""
        if not rows.size:
            return
        options = [(bundle, option) for bundle in bundles for option in range(len(bundle.choices))]
        ways = [
            count_states(b.choices[o].free, self.fixed) * self.behind[b.head] for b, o in options
        ]
        # Shares of whole numbers of any size.
        ends = np.cumsum([number / sum(ways) for number in ways])
        ends[np.flatnonzero(ways)[-1] :] = 1.0
        which = np.searchsorted(ends, self.generator.random(rows.size), side="right")
        for number, (bundle, option) in enumerate(options):
            some = rows[which == number]
            if some.size:
                yield bundle, option, some

    def _switched(self, on: Flags, rows: Index, choice: Choice) -> None:
        """Note what is on behind an option, what is free drawn."""
        for name in choice.on:
            if name in self._number:
                on[rows, self._number[name]] = True
        if choice.free:
            self._draw(choice.free, on, rows)

    def _draw(self, items: Sequence[Item], on: Flags, rows: Index) -> None:
        """Draw what is on among some items."""
        for item in items:
            if isinstance(item, Split):
                self._draw(item.inside, on, rows)
            if item.switch is None:
                continue
            held = self.fixed.get(item.switch)
            inside = count_states(item.inside, self.fixed) if isinstance(item, Loop) else 1
            least = {True: 0.0, False: 1.0, None: 1 / (1 + inside)}[held]
            chosen = rows[self.generator.random(rows.size) >= least]
            if item.switch in self._number:
                on[chosen, self._number[item.switch]] = True
            if isinstance(item, Loop):
                self._draw(item.inside, on, chosen)

    def silent(self, board: Board, reference: Reference | None, count: int) -> Flags:
        """Return what is on in drawn states that are silent, shape (states, switches)."""
        circuit = Circuit(board, LEVEL.frequency)
        found: list[Flags] = []
        while len(found) < count:
            on = np.zeros((SAMPLE, len(self.switches)), dtype=bool)
            self._draw(board.laid, on, np.arange(SAMPLE))
            for flags, names in zip(on, self.names(on), strict=True):
                ways = [path(board.chain, names)]
                if reference is not None:
                    ways.append(reference_path(board, names, reference))
                if not all(sounds(circuit.level(way)).all() for way in ways):
                    found.append(flags)
        return np.array(found[:count])

    def names(self, on: Flags) -> tuple[frozenset[str], ...]:
        """Return the names of what is on in each state."""
        names = np.array(self.switches, dtype=object)
        return tuple(frozenset(names[flags].tolist()) for flags in on)


def _sized(matrix: ComplexArray) -> tuple[ComplexArray, FloatArray]:
    """Return a chain matrix of about 1, and what it is too small by [nepers]."""
    A, B, C, D = np.abs(matrix)
    size = np.maximum.reduce((A, B / _R, C * _R, D))
    return matrix / size, np.log(size)
