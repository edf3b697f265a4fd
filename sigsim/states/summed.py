"""How a measure spreads over more states than can be listed: counted by sums, none of them drawn.

A state is a sum of stretches between vertices (`arrivals`), so that a histogram of sums at each
vertex counts them all, and one of what follows each vertex tells the states apart in which a thing
is on. Where there are too many stretches, or where something is silent only as a whole, states are
drawn and the result says so.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Final, TypeAlias

import numpy as np

from sigsim.states.arrivals import MOST_OPEN, MOST_WAYS, TooManyWaysError, arrivals
from sigsim.states.distinct import distinct_states
from sigsim.states.followed import states_behind
from sigsim.states.histograms import Counts, Meeting, arriving, backward, binned, extent, forward
from sigsim.states.losses import Losses
from sigsim.states.lots import SAMPLE, Sample, drawn_losses, drawn_states
from sigsim.states.search import Search

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.states.arrivals import Arrivals
    from sigsim.states.measure import Measure

__all__ = ["SAMPLE", "Sample", "drawn_states", "summed"]

Progress: TypeAlias = Callable[[int], None]

# How wide bins are [dB], and how far a value read off may be from the true one, if memory allows.
_WIDTH_DB: Final = 4e-4
_ERROR_DB: Final = 0.015
# Bins of the histograms at all vertices together, one way: 32 MB.
_MOST_BINS: Final = 1 << 22
# What adding up scores may leave beside the bins [dB].
_ROUNDING_DB: Final = 1e-9
# Counts that are whole numbers are so to this share; up to this size they are exact.
_WHOLE: Final = 1e-12
_EXACT: Final = 2.0**44
# A remainder that is less than this of all is counted by itself, not by taking off.
_REMAINDER: Final = 1e-6


def summed(
    board: Board,
    measure: Measure,
    fixed: Mapping[str, bool] | None = None,
    limits: Sequence[float] = (),
    shares: Sequence[float] = (),
    progress: Progress | None = None,
    *,
    seed: int = 1,
    most: tuple[int, int] = (MOST_OPEN, MOST_WAYS),
) -> Losses:
    """Return how a measure spreads over all states of a board.

    Parameters
    ----------
    board : the board
    measure : which one
    fixed : things held on or off
    limits : below which states are counted [dB]
    shares : of the states that can be heard, for the quantiles [-]
    progress : told how many states were counted
    seed : of the random numbers, where states are drawn
    most : how many stretches are followed at once, and in all, before states are drawn

    Returns
    -------
    Losses; its counts are exact up to 2^53 and rounded above
    """
    search = Search(board, [measure], fixed)
    total = distinct_states(board, fixed)
    offset = measure.offset(board)
    if math.isnan(offset) or search.graph.silent:
        losses = _silent(total, limits, shares)
    else:
        found = _found(search, measure, most)
        if found is None:
            losses = drawn_losses(search, measure, limits, shares, seed)
        elif not found:
            losses = _silent(total, limits, shares)
        else:
            spread = _Spread(search, measure, found, most)
            losses = spread.losses(total, limits, shares)
    if progress is not None:
        progress(losses.states)
    return losses


def _silent(total: int, limits: Sequence[float], shares: Sequence[float]) -> Losses:
    """Return the losses of states that are all silent."""
    return Losses(total, total, (0,) * len(limits), (math.nan,) * len(shares), {})


def _found(search: Search, measure: Measure, most: tuple[int, int]) -> list[Arrivals] | None:
    """Return all stretches, none where nothing is heard; None if sums are not enough."""
    if search.some_silent:
        return None
    try:
        with np.errstate(all="ignore"):
            return arrivals(search.graph, search.weights(measure), search.fixed, most)
    except TooManyWaysError:
        return None


class _Spread:
    """A measure over all states in bins.

    Parameters
    ----------
    search : of the board by this measure
    measure : which one
    found : the stretches to each vertex
    most : how many stretches may be followed where some states are counted by themselves
    """

    def __init__(
        self,
        search: Search,
        measure: Measure,
        found: Sequence[Arrivals],
        most: tuple[int, int],
    ) -> None:
        self.search, self.measure, self.found, self.most = search, measure, found, most
        depth, ranges = extent(found)
        self.width = max(min(_WIDTH_DB, 2 * _ERROR_DB / depth), ranges / _MOST_BINS)
        self.stretches, low, high = binned(found, self.width)
        # A state lies so much above the middle of what the rounding left, or below it, at most.
        self.error = (high - low) / 2 + _ROUNDING_DB
        self.offset = measure.offset(search.board) + (high + low) / 2
        self.before, self.behind = forward(self.stretches), backward(self.stretches)
        self.all = Meeting(self.before[-1], self.behind[-1])

    def losses(self, total: int, limits: Sequence[float], shares: Sequence[float]) -> Losses:
        """Return how it spreads, with so many states in all."""
        heard = states_behind(self.search.graph, self.search.fixed)[0]
        size = self.all.total
        below = tuple(_counted(self._below(limit), size, heard) for limit in limits)
        quantiles = tuple(self._value(self.all.up_to, size, share) for share in shares)
        medians = {
            name: both
            for name in self.search.board.switches()
            if name not in self.search.fixed and (both := self._medians(name)) is not None
        }
        return Losses(total, total - heard, below, quantiles, medians, self.error)

    def _below(self, limit: float) -> float:
        """Return how many states lie below a limit [dB]."""
        if not math.isfinite(limit):
            return self.all.total if limit > 0 else 0.0
        return self.all.up_to(math.ceil((limit - self.offset) / self.width) - 1)

    def _value(self, up_to: Callable[[int], float], size: float, share: float) -> float:
        """Return the value [dB] that a share of so many states does not exceed, by bisection."""
        wanted = max(1, math.ceil(share * size)) * (1 - _WHOLE)
        low, high = self.before[-1].first - 1, self.before[-1].end - 1
        if share >= 1:
            return high * self.width + self.offset
        while high - low > 1:
            middle = (low + high) // 2
            if up_to(middle) >= wanted:
                high = middle
            else:
                low = middle
        return high * self.width + self.offset

    def _medians(self, name: str) -> tuple[float, float] | None:
        """Return the medians [dB] with a thing off and on; None if it is always either."""
        meetings = list(self._on(name))
        on, everything = sum(meeting.total for meeting in meetings), self.all.total
        off = everything - on
        if _is_whole(everything) and min(on, off) < 1:
            return None
        if not on:
            return None

        def up_to(place: int) -> float:
            return sum(meeting.up_to(place) for meeting in meetings)

        if off > _REMAINDER * everything:
            low = self._value(lambda place: self.all.up_to(place) - up_to(place), off, 0.5)
        else:
            fixed = {**self.search.fixed, name: False}
            held = summed(self.search.board, self.measure, fixed, (), (0.5,), most=self.most)
            self.error = max(self.error, held.error)
            (low,) = held.quantiles
        return None if math.isnan(low) else (low, self._value(up_to, on, 0.5))

    def _on(self, name: str) -> Iterator[Meeting]:
        """Yield what makes up all the states in which a thing is on."""
        for vertex, arrived in enumerate(self.found, 1):
            share = arrived.always.get(name, 0.0)
            if share:
                before = self.before[vertex]
                yield Meeting(Counts(before.first, share * before.counts), self.behind[vertex])
            elif name in arrived.switches:
                stretches = self.stretches[vertex - 1]
                on = stretches.on[:, arrived.switches.index(name)]
                yield Meeting(arriving(stretches, on, self.before), self.behind[vertex])


def _counted(count: float, total: float, heard: int) -> int:
    """Return a count of a total that may be rounded, of which the true number is known."""
    if count >= total:
        return heard
    return round(count if _is_whole(total) else count / total * heard)


def _is_whole(size: float) -> bool:
    """Whether so many states are counted without rounding."""
    return size < _EXACT
