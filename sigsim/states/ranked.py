"""The worst and best of all states by a measure that adds up over segments, exactly.

Best paths over the vertices of `segments`: at each vertex only the K best ways to get there can be
part of the K best of all, because what follows does not depend on how one got there.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from typing import TYPE_CHECKING, Final, TypeAlias

import numpy as np

from sigsim import metrics
from sigsim.metrics import TREBLE_BAND, USUAL_BASIS, Basis, Reference, decibels, sounds
from sigsim.physics.source import Load
from sigsim.states.front import Front, Trail, names_along
from sigsim.states.measure import Measure, treble
from sigsim.states.segments import Arrival, Listener, Walk, ideal_grid
from sigsim.states.sounding import Edges, heard_ways, range_of_levels
from sigsim.states.ways import alike

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.physics.arrays import FloatArray

MOST_ROWS: Final = 1 << 16
# So many candidates are ranked at once.
_AT_ONCE: Final = 1 << 22
# Stands for an infinite measure: minus infinity means here that there is none.
_NO_SOUND_DB: Final = 1e9


@dataclass(frozen=True)
class Ranked:
    """One state and its measure.

    Attributes
    ----------
    on : the names of what is on
    value : the measure [dB]; not a number where no state gives any sound, or none can be told
    exact : whether every state was covered
    """

    on: frozenset[str]
    value: float
    exact: bool


_Back: TypeAlias = "tuple[int, int, Trail | None]"


class Ranking:
    """A search for the states with the largest (or smallest) measure; silent ones do not count.

    Parameters
    ----------
    board : the board
    measure : what to rank by
    count : how many states
    largest : whether the largest come first
    fixed : things held on or off
    listeners : inputs tried at places of the chain; `heard` then holds the extreme up to each

    Attributes
    ----------
    exact : once it has run, whether every state was covered
    some_silent : whether some states are silent of which every segment lets something through
    """

    def __init__(
        self,
        board: Board,
        measure: Measure,
        count: int = 1,
        *,
        largest: bool = True,
        fixed: Mapping[str, bool] | None = None,
        listeners: Mapping[int, Listener] | None = None,
    ) -> None:
        self.board, self.measure, self.count = board, measure, count
        self.sign = 1.0 if largest else -1.0
        self.exact, self.some_silent = True, False
        # Behind the frequencies of the measure that of the level, which tells what is silent.
        frequency = np.append(measure.frequency, metrics.LEVEL_HZ)
        ideal = None
        if measure.reference is not None:
            ideal = ideal_grid(frequency, measure.reference)
        self.heard: dict[int, float] = {}
        self.walk = Walk(
            board,
            frequency,
            ideal,
            fixed,
            self._most_promising,
            MOST_ROWS,
            listeners,
            measure.reference or "ideal",
        )
        self.scores = np.full((64, count), -np.inf)
        self.scores[0, 0] = 0.0
        self.backs: list[list[_Back]] = [[(0, 0, None)]]
        self.switches: list[str | None] = [None]
        self.fixed = fixed or {}
        self.fixed_on = {name for name, on in (fixed or {}).items() if on}
        self.edges: list[Edges] = []
        self.trails: list[list[Trail | None]] = []

    def run(self) -> tuple[Ranked, ...]:
        """Return the states in order, at most `count`; with none to be heard, every stage off."""
        with np.errstate(all="ignore"):
            for arrival in self.walk.arrivals():
                self._arrive(arrival)
            offset = self.measure.offset(self.board)
            least, most = range_of_levels(self.edges)
            if np.isnan(offset) or not sounds(most).all():
                return (self._nothing(),)
            if not sounds(least).all():
                self.some_silent = True
                self._leave_silent_out()
        last = len(self.backs) - 1
        scores = self.scores[last, : len(self.backs[last])]
        found = np.flatnonzero(scores > -np.inf)
        totals = self.sign * scores
        totals[np.abs(scores) > _NO_SOUND_DB / 2] *= np.inf
        ranked = tuple(
            Ranked(self._names(last, rank), float(totals[rank] + offset), self.exact)
            for rank in found.tolist()
        )
        return tuple(islice(self._with_alike(ranked), self.count)) or (self._nothing(),)

    def _with_alike(self, ranked: Sequence[Ranked]) -> Iterator[Ranked]:
        """Yield states, each with those that sound alike: the walk has one of them."""
        for one in ranked:
            for on in alike(self.board, one.on, self.fixed):
                yield replace(one, on=on)

    def _nothing(self) -> Ranked:
        return Ranked(self.board.heard(frozenset(self.fixed_on)), math.nan, self.exact)

    def _leave_silent_out(self) -> None:
        """Search again, for states that are more than a sum of segments that can be heard."""
        found = heard_ways(self.edges, self.count)
        self.exact = self.exact and found.exact
        self.scores = np.full((len(found.ways), self.count), -np.inf)
        last = found.ways[-1].scores
        self.scores[-1, : last.size] = last
        self.backs = [[(0, 0, None)]]
        for trails, ways in zip(self.trails, found.ways[1:], strict=True):
            steps = zip(ways.starts.tolist(), ways.ranks.tolist(), ways.rows.tolist(), strict=True)
            self.backs.append([(start, rank, trails[row]) for start, rank, row in steps])

    def _arrive(self, arrival: Arrival) -> None:
        gain, ideal = arrival.gain[:, :-1], arrival.ideal[:, :-1]
        segment = self.sign * self.measure.of(gain, ideal)
        finite = np.clip(segment, -_NO_SOUND_DB, _NO_SOUND_DB)
        levels = np.concatenate((arrival.gain[:, -1:], arrival.ideal[:, -1:]), axis=1)
        # What lets nothing through has no measure.
        heard = ~np.isnan(segment) & (levels > -np.inf).all(axis=1)
        segment = np.where(heard, finite, -np.inf)
        if arrival.listener is not None:
            highest = self.scores[arrival.starts, 0] + segment
            self.heard[arrival.listener] = self.sign * float(highest.max())
            return
        self.edges.append(Edges(arrival.starts, segment, levels))
        self.trails.append(arrival.trails)
        rows, ranks, found = self._best(arrival.starts, segment)
        backs: list[_Back] = []
        scores = np.full(self.count, -np.inf)
        for row, rank, score in zip(rows.tolist(), ranks.tolist(), found.tolist(), strict=True):
            start = int(arrival.starts[row])
            if rank < len(self.backs[start]):
                scores[len(backs)] = score
                backs.append((start, rank, arrival.trails[row]))
        if arrival.vertex == len(self.scores):
            self.scores = np.concatenate((self.scores, np.full_like(self.scores, -np.inf)))
        self.scores[arrival.vertex] = scores
        self.backs.append(backs)
        self.switches.append(arrival.switch)

    def _best(
        self, starts: np.ndarray, segment: FloatArray
    ) -> tuple[np.ndarray, np.ndarray, FloatArray]:
        """Return the best ways to a vertex: their rows, ranks at the start, and scores.

        Rows are looked at a few at a time, the most promising first, until the rest cannot add
        anything: all of them times all ranks would not fit into memory.
        """
        few = max(_AT_ONCE // self.count, 1)
        first = self.scores[starts, 0] + segment
        order = np.arange(starts.size) if starts.size <= few else np.argsort(-first, kind="stable")
        best, scores = np.empty(0, dtype=np.int64), np.empty(0)
        for begin in range(0, order.size, few):
            part = order[begin : begin + few]
            if scores.size == self.count and first[part[0]] <= scores[-1]:
                break
            more = self.scores[starts[part]] + segment[part][:, None]
            places = (part[:, None] * self.count + np.arange(self.count)).ravel()
            best = np.concatenate((best, places))
            scores = np.concatenate((scores, more.ravel()))
            kept = _largest(scores, self.count)
            best, scores = best[kept], scores[kept]
        return *np.divmod(best, self.count), scores

    def _names(self, vertex: int, rank: int) -> frozenset[str]:
        names: set[str] = set()
        while vertex:
            switch = self.switches[vertex]
            if switch is not None:
                names.add(switch)
            vertex, rank, trail = self.backs[vertex][rank]
            names.update(names_along(trail))
        return self.board.heard(frozenset(names | self.fixed_on))

    def _most_promising(self, front: Front) -> Front:
        """Return the half of the open segments that would rank highest if the chain ended here."""
        self.exact = False
        ideal_load = Load(0.0) if self.walk.ideal is None else self.walk.ideal.load
        gain = decibels(self.walk.circuit.load.reads(front.seen))[:, :-1]
        promise = self.measure.of(gain, decibels(ideal_load.reads(front.ideal))[:, :-1])
        score = self.scores[front.starts, 0] + self.sign * promise
        score = np.where(np.isnan(score), -np.inf, score)
        return front.kept(np.sort(_largest(score, MOST_ROWS // 2)))


def _largest(values: FloatArray, count: int) -> np.ndarray:
    """Return the indices of the largest values, the largest first."""
    if count == 1:
        return np.array([np.argmax(values)])
    if values.size > count:
        kept = np.sort(np.argpartition(-values, count - 1)[:count])
    else:
        kept = np.arange(values.size)
    return kept[np.argsort(-values[kept], kind="stable")]


def worst_state(board: Board, basis: Basis = USUAL_BASIS) -> Ranked:
    """Return the state with the largest treble loss of all.

    Parameters
    ----------
    board : the board
    basis : what the loss is measured against and over
    """
    return Ranking(board, treble(basis)).run()[0]


def worst(
    board: Board,
    reference: Reference = "ideal",
    band: tuple[float, float] = TREBLE_BAND,
    at: str = "",
) -> Ranked:
    """Return the state with the largest treble loss of all.

    Parameters
    ----------
    board : the board
    reference : what the loss is measured against
    band : of the treble loss [Hz]
    at : the split at whose end one listens; empty for the end of the chain

    Returns
    -------
    Ranked

    Raises
    ------
    UnknownNameError : the board has no end of this name
    """
    return worst_state(board.heard_at(at) if at else board, Basis(reference, band))
