"""The states of a board with the largest or smallest measure, proven.

Two walks through the graph of the board share the work. One, from the destination, keeps at each
node the few columns of which one is always the best that can follow. The other, from the
instrument, keeps the ways of which the best that can follow scores most, and so ends with the best
of all. Where the first would keep too many columns it notes by how much what it left out may score
better. With that bound, and the best found so far, the next walk the other way leaves out nearly
all, and so on in turns until nothing is left out that could be better.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import islice
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.metrics import LEVEL_HZ, SILENT_DB, TREBLE_BAND, USUAL_BASIS, Basis, Reference
from sigsim.states.board_graph import board_graph
from sigsim.states.circuit import Circuit
from sigsim.states.disks import enclosures
from sigsim.states.measure import Measure, treble, weights_over
from sigsim.states.path import path, reference_path
from sigsim.states.quiet import Calm, audible, can_be_silent
from sigsim.states.rows import NEPER_DB, Criteria
from sigsim.states.sweep import FIRST_ROWS, Sweep, Way, best_of
from sigsim.states.ways import alike

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.physics.arrays import FloatArray
    from sigsim.states.disks import Disks
    from sigsim.states.graph import Graph
    from sigsim.states.rows import Rows

# How long a search may take [s] before it says what it has.
USUAL_SECONDS: Final = 60.0
# How long to look for the quietest state [s].
_SHORT: Final = 5.0
# A measure that is this large [dB] is told by the exact model: it may be infinite.
_LARGE_DB: Final = 140.0


@dataclass(frozen=True)
class Ranked:
    """One state and its measure.

    Attributes
    ----------
    on : the names of what is on
    value : the measure [dB]; not a number where no state gives any sound, or none can be told
    exact : whether every state was covered
    bound : what no other state than those ranked exceeds, if it is not exact [dB]
    """

    on: frozenset[str]
    value: float
    exact: bool
    bound: float


class Walks:
    """Walks through a graph both ways, by one measure.

    Parameters
    ----------
    straight, turned : from the instrument, and from the destination
    """

    def __init__(self, straight: Sweep, turned: Sweep) -> None:
        self.straight, self.turned = straight, turned

    @cached_property
    def first(self) -> list[Rows | None]:
        """The columns that the first walk keeps, from the destination."""
        return self.turned.rows(FIRST_ROWS)


class Search:
    """A board whose states are searched by any of some measures.

    Parameters
    ----------
    board : the board
    measures : what to search by
    fixed : things held on or off

    Attributes
    ----------
    some_silent : whether some states may be silent of which every part lets something through
    """

    def __init__(
        self, board: Board, measures: Sequence[Measure], fixed: Mapping[str, bool] | None = None
    ) -> None:
        self.board, self.fixed = board, dict(fixed or {})
        self._kept: dict[tuple[int, bool], tuple[Measure, Walks]] = {}
        self.frequency = np.unique(np.concatenate([[LEVEL_HZ], *(m.frequency for m in measures)]))
        references = {m.reference for m in measures} - {None, "direct"}
        self.reference: Reference | None = references.pop() if references else None
        at_level = int(np.flatnonzero(self.frequency == LEVEL_HZ)[0])
        self.levels: tuple[int, ...] = (at_level,)
        if self.reference is not None:
            self.levels = (at_level, at_level + self.frequency.size)
        ideal = None if self.reference is None else self.frequency
        with np.errstate(all="ignore"):
            graph = board_graph(board, self.frequency, ideal, self.fixed, self.reference or "ideal")
            self.graph = audible(graph, self.levels)
            self.some_silent = False
            self.some_silent = not self.graph.silent and self._some_silent()

    def ranked(
        self,
        measure: Measure,
        count: int = 1,
        *,
        largest: bool = True,
        seconds: float = USUAL_SECONDS,
    ) -> tuple[Ranked, ...]:
        """Return the states with the largest or smallest measure; silent ones do not count.

        Parameters
        ----------
        measure : one of those given
        count : how many
        largest : whether the largest come first
        seconds : how long to search; what is found then may not be the extreme

        Returns
        -------
        in order; with none to be heard, every stage off
        """
        offset = measure.offset(self.board)
        if math.isnan(offset) or self.graph.silent:
            return (self._nothing(),)
        sign = 1.0 if largest else -1.0
        with np.errstate(all="ignore"):
            walks = self.walks(measure, largest=largest)
            found, bound = best_of(
                walks.straight, walks.turned, count, time.monotonic() + seconds, walks.first
            )
        exact = bound is None
        limit = math.nan if bound is None else sign * bound * NEPER_DB + offset
        ranked = (self._ranked(way, measure, sign, offset, limit) for way in found)
        told = (replace(one, exact=exact) for one in ranked)
        return tuple(islice(self._with_alike(told), count)) or (self._nothing(),)

    def walks(self, measure: Measure, *, largest: bool = True) -> Walks:
        """Return the walks by a measure; the same ones again if they are asked for again."""
        key = id(measure), largest
        if key not in self._kept:
            sign = 1.0 if largest else -1.0
            self._kept[key] = measure, self._walks(sign * self.weights(measure))
        return self._kept[key][1]

    def _walks(self, weights: FloatArray) -> Walks:
        """Return walks both ways over the columns that have a weight, or tell what is silent."""
        kept = np.flatnonzero(weights)
        levels: tuple[int, ...] = ()
        if self.some_silent:
            kept = np.union1d(kept, self.levels)
            levels = tuple(np.searchsorted(kept, self.levels).tolist())
        criteria = Criteria.of(weights[kept][:, None], levels)

        def walk(graph: Graph, enclose: Callable[[], Sequence[Disks]]) -> Sweep:
            graph = graph.columns(kept)
            calm = Calm.of(graph, levels) if levels else None
            return Sweep(graph, lambda: [d.columns(kept) for d in enclose()], criteria, calm)

        return Walks(
            walk(self.graph, lambda: self._disks), walk(self._turned, lambda: self._turned_disks)
        )

    @cached_property
    def _turned(self) -> Graph:
        return self.graph.turned()

    @cached_property
    def _disks(self) -> Sequence[Disks]:
        return enclosures(self.graph)

    @cached_property
    def _turned_disks(self) -> Sequence[Disks]:
        return enclosures(self._turned)

    def weights(self, measure: Measure) -> FloatArray:
        """Return the weight of the logarithm of 1/|H| in each column."""
        return weights_over(measure, self.frequency, self.graph.start.shape[1])

    def _some_silent(self) -> bool:
        """Return whether any state is silent, as far as a short search can tell."""
        if not can_be_silent(self.graph, self.levels):
            return False
        for level in self.levels:
            weights = np.zeros(self.graph.start.shape[1])
            weights[level] = 1.0
            walks = self._walks(weights)
            found, bound = best_of(walks.straight, walks.turned, 1, time.monotonic() + _SHORT)
            taken = max((way.score for way in found), default=math.inf)
            if not max(taken, bound or -math.inf) * NEPER_DB < -SILENT_DB:
                return True
        return False

    def _ranked(
        self, way: Way, measure: Measure, sign: float, offset: float, bound: float
    ) -> Ranked:
        on = frozenset(name for choice in way.choices for name in choice.on)
        on = self.board.heard(on | self._held_on)
        value = sign * way.score * NEPER_DB + offset
        if not abs(value) < _LARGE_DB:
            value = self._exactly(on, measure) + offset
        return Ranked(on, value, exact=True, bound=value if math.isnan(bound) else bound)

    def _exactly(self, on: frozenset[str], measure: Measure) -> float:
        """Return a measure [dB] of one state, which may be infinite."""
        circuit = Circuit(self.board, measure.frequency)
        gain = circuit.level(path(self.board.chain, on))
        ideal = np.zeros_like(gain)
        if measure.reference not in (None, "direct"):
            ideal = circuit.level(reference_path(self.board, on, measure.reference))
        return float(measure.of(gain, ideal))

    def _with_alike(self, ranked: Iterator[Ranked]) -> Iterator[Ranked]:
        """Yield states, each with those that sound alike: the graph has one of them."""
        for one in ranked:
            for on in alike(self.board, one.on, self.fixed):
                yield replace(one, on=on)

    @property
    def _held_on(self) -> frozenset[str]:
        return frozenset(name for name, on in self.fixed.items() if on)

    def _nothing(self) -> Ranked:
        return Ranked(self.board.heard(self._held_on), math.nan, exact=True, bound=math.nan)


def ideal_grid(frequency: FloatArray, reference: Reference) -> FloatArray | None:
    """Return where the reference is followed: nowhere for the fixed one."""
    return None if reference == "direct" else frequency


def ranked(
    board: Board,
    measure: Measure,
    count: int = 1,
    *,
    largest: bool = True,
    fixed: Mapping[str, bool] | None = None,
    seconds: float = USUAL_SECONDS,
) -> tuple[Ranked, ...]:
    """Return the states of a board with the largest or smallest measure; see `Search.ranked`."""
    search = Search(board, [measure], fixed)
    return search.ranked(measure, count, largest=largest, seconds=seconds)


def worst_state(board: Board, basis: Basis = USUAL_BASIS, seconds: float = USUAL_SECONDS) -> Ranked:
    """Return the state with the largest treble loss of all.

    Parameters
    ----------
    board : the board
    basis : what the loss is measured against and over
    seconds : how long to search
    """
    return ranked(board, treble(basis), seconds=seconds)[0]


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
