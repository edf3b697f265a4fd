"""How a measure spreads over all states of a board, exactly and without a list of them.

All states are sorted into narrow bins by a key that is in the order of the measure, and counted in
each, and in how many of these each switch is on. So the bin in which a quantile or a median lies is
known, and which place it has there. Only the few states in these bins are looked at one by one.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.states.binned import GROUP, GROUP_BITS, Binned, Window
from sigsim.states.board_graph import board_graph
from sigsim.states.distinct import distinct_states
from sigsim.states.halves import Halves
from sigsim.states.keys import Product
from sigsim.states.labels import Counts
from sigsim.states.losses import Losses
from sigsim.states.plan import Plan
from sigsim.states.quiet import can_be_silent
from sigsim.states.wish import Place, Wish, answer, in_order, placed

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.physics.arrays import FloatArray
    from sigsim.states.binned import Bins, Chosen, Progress
    from sigsim.states.graph import Index
    from sigsim.states.measure import Measure

_MOST_COLUMNS: Final = 1 << 15
# States that are looked at one by one in one bin; a bin with more is divided again.
_MOST_SEEN: Final = 1 << 17
# Those in groups of bins that are kept for that.
_MOST_KEPT: Final = 1 << 20
# States in one bin that is no wider than this [dB] are the same.
_SAME_DB: Final = 1e-10


def counted(
    board: Board,
    measure: Measure,
    fixed: Mapping[str, bool] | None,
    limits: Sequence[float],
    shares: Sequence[float],
    progress: Progress | None = None,
) -> Losses:
    """Return how a measure spreads over all states.

    Parameters
    ----------
    board : the board
    measure : what is counted
    fixed : things held on or off
    limits : the states below each are counted [dB]
    shares : the values that these shares of the states do not exceed are wanted [-]
    progress : told how many more states are done, in all as many as there are

    Returns
    -------
    Losses; of so many states as the graph of the board has ways two bytes each are kept meanwhile
    """
    fixed = fixed or {}
    names = [name for name in board.switches() if name not in fixed]
    total, done = distinct_states(board, fixed), 0

    def told(states: int) -> None:
        nonlocal done
        done += states
        if progress is not None:
            progress(states)

    with np.errstate(all="ignore"):
        plan = Plan(measure, board)
        products = _products(board, plan, names, fixed)
        found = _Spread(plan, products, told).losses(names, limits, shares)
    if progress is not None:
        progress(total - done)
    return replace(found, states=total, silent=total - found.states)


class _Spread:
    """The states of which something may be heard.

    Parameters
    ----------
    plan : of the measure
    products : all of them
    progress : told how many more are done
    """

    def __init__(self, plan: Plan, products: Sequence[Product], progress: Progress) -> None:
        self.plan, self.states, self.progress = plan, Binned(products), progress

    def losses(
        self, names: Sequence[str], limits: Sequence[float], shares: Sequence[float]
    ) -> Losses:
        """Return what `counted` does, of these states alone and none of them silent."""
        if not self.states.products:
            return Losses(0, 0, (0,) * len(limits), (math.nan,) * len(shares), {})
        window = self.states.window()
        bins, groups = self.states.binned(window, self.progress)
        heard = groups[:, :-1].sum(axis=1)
        total = int(heard[0])
        if not total:
            return Losses(0, 0, (0,) * len(limits), (math.nan,) * len(shares), {})
        both = {
            name: (Wish(place, False, _half(total - on)), Wish(place, True, _half(on)))
            for place, name in enumerate(names, 1)
            if 0 < (on := int(heard[place])) < total
        }
        below = [Wish(limit=limit) for limit in limits]
        ranks = [Wish(rank=_rank(share, total)) for share in shares]
        wishes = dict.fromkeys((*below, *ranks, *(one for pair in both.values() for one in pair)))
        answers = self._settled(list(wishes), window, bins, groups)
        return Losses(
            total,
            0,
            tuple(int(answers[wish]) for wish in below),
            tuple(answers[wish] for wish in ranks),
            {name: (answers[off], answers[on]) for name, (off, on) in both.items()},
        )

    def _settled(
        self, wishes: Sequence[Wish], window: Window, bins: Sequence[Bins], groups: Index
    ) -> dict[Wish, float]:
        """Return the answers, from all states in bins and how many are in each group of bins."""
        rough = {
            wish: placed(wish, groups[:, :-1], self._bin(wish, window) >> GROUP_BITS)
            for wish in wishes
        }
        numbers = sorted({place.bin for place in rough.values()})
        counts, seen, kept = self._opened(numbers, window, bins)
        fine, crowded = dict[Wish, Place](), dict[int, list[Wish]]()
        answers = dict[Wish, float]()
        for wish, (group, below) in rough.items():
            inner = counts[:, numbers.index(group)]
            place = placed(wish, inner, self._bin(wish, window) - group * GROUP, below)
            number = group * GROUP + place.bin
            if seen[numbers.index(group), place.bin] <= _MOST_SEEN:
                fine[wish] = Place(number, place.below)
            elif self.plan.width(*window.edges(number)) <= _SAME_DB:
                answers[wish] = self._alike(wish, window, number, place, inner)
            else:
                crowded.setdefault(number, []).append(wish)
        wanted = {place.bin for place in fine.values()}
        answers |= self._seen(fine, kept or self.states.chosen(bins, window, wanted))
        for number, some in crowded.items():
            closer = Window.over(*window.edges(number))
            answers |= self._settled(some, closer, *self.states.binned(closer))
        return answers

    def _bin(self, wish: Wish, window: Window) -> int:
        """Return in which bin the limit of a wish is."""
        return int(window.bins(np.array([0.0 if wish.rank else self.plan.key(wish.limit)]))[0])

    def _opened(
        self, groups: Sequence[int], window: Window, bins: Sequence[Bins]
    ) -> tuple[Index, Index, list[Chosen]]:
        """Return what is in each bin of some groups.

        Returns
        -------
        how many states, and in how many each switch is on, shape (1 + switches, groups, GROUP);
        how many are seen as one, shape (groups, GROUP); these states, if they are not too many
        """
        size = len(groups) * GROUP
        place = np.zeros((window.size >> GROUP_BITS) + 1, np.int64)
        place[groups] = np.arange(len(groups)) * GROUP
        tallies = self.states.tallies(size)
        seen = np.zeros(size, np.int64)
        every = (group * GROUP + inner for group in groups for inner in range(GROUP))
        kept: list[Chosen] = []
        room = _MOST_KEPT
        for some in self.states.chosen(bins, window, every):
            key = place[some.bins >> GROUP_BITS] + (some.bins & (GROUP - 1))
            tallies[some.number].add(key, some.rows, some.columns)
            seen += np.bincount(key, minlength=size)
            room -= key.size
            kept = [*kept, some] if room >= 0 else []
        counts: Index = np.sum([tally.result() for tally in tallies], axis=0)
        return counts.reshape(-1, len(groups), GROUP), seen.reshape(-1, GROUP), kept

    def _alike(self, wish: Wish, window: Window, number: int, place: Place, inner: Index) -> float:
        """Return an answer from a bin of which all states are the same."""
        value = self.plan.value(window.edges(number)[0])
        if wish.rank:
            return value
        return place.below + (int(wish.of(inner)[place.bin]) if value < wish.limit else 0)

    def _seen(self, places: Mapping[Wish, Place], chosen: Iterable[Chosen]) -> dict[Wish, float]:
        """Return the answers that are told by looking at states, all that are in some bins."""
        parts: dict[int, list[tuple[FloatArray, Index]]] = {p.bin: [] for p in places.values()}
        wanted = np.array(sorted(parts))
        for number, rows, columns, found in chosen:
            own = np.flatnonzero(np.isin(found, wanted))
            if not own.size:
                continue
            product = self.states.products[number]
            rows, columns, found = rows[own], columns[own], found[own]
            values = product.values(rows, columns)
            one, other = product.labels
            labels = Counts.joined(one[rows], other[columns])
            for bin_ in np.unique(found).tolist():
                some = found == bin_
                parts[bin_].append((values[some], labels[some]))
        ordered = {bin_: in_order(some) for bin_, some in parts.items()}
        return {wish: answer(wish, place, *ordered[place.bin]) for wish, place in places.items()}


def _rank(share: float, states: int) -> int:
    """Return which state in order a share of them does not exceed."""
    return min(states, max(1, math.ceil(share * states)))


def _half(states: int) -> int:
    return (states + 1) // 2


def _products(
    board: Board, plan: Plan, names: Sequence[str], fixed: Mapping[str, bool]
) -> list[Product]:
    """Return all states of which something may be heard as products of tables."""
    ideal = plan.frequency if plan.ideal else None
    graph = board_graph(board, plan.frequency, ideal, fixed, plan.reference)
    if math.isnan(plan.offset) or not all(np.isfinite(e).all() for e in (graph.start, graph.end)):
        return []
    halves = Halves(graph, Counts(names, fixed))
    if not halves.ways:
        return []
    watch = can_be_silent(graph, plan.levels)
    return [Product.of(*pair, plan, watch=watch) for pair in halves.pairs(_MOST_COLUMNS)]
