"""The largest measure of each stretch that boxes in some places would cut a chain into.

A box that is always on isolates, so that what is before it and what is behind it add up, whatever
is on. The boxes are tried without being there: each place is an output to start from and an input
to end at, and one walk from each output meets all later inputs.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.states.board_graph import graph_of
from sigsim.states.disks import enclosures
from sigsim.states.rows import NEPER_DB, Criteria, Rows, scores
from sigsim.states.sides import Sides, before, behind
from sigsim.states.sweep import NO_SLACK, Sweep, best_of

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.items.base import Item
    from sigsim.physics.arrays import ComplexArray
    from sigsim.states.disks import Disks
    from sigsim.states.measure import Measure

# Rows kept at a node: where more could matter, a stretch is searched alone.
_MOST_ROWS: Final = 48


@dataclass(frozen=True)
class Cut:
    """A box in a place of the wired chain.

    Attributes
    ----------
    before : how many things of the chain come before it
    wiring_before : what is put between these and the box
    behind : how many things of the chain are no longer behind it
    wiring_behind : what is put between the box and the rest, splits that move along too
    """

    before: int
    wiring_before: tuple[Item, ...]
    behind: int
    wiring_behind: tuple[Item, ...]


class Stretches:
    """The stretches of a chain between boxes in some places.

    Parameters
    ----------
    board : the board
    box : always on
    cuts : its places, in the order of the chain
    measure : whose largest value over all states is wanted
    fixed : things held on or off
    between : what stands between boxes in two places, by their numbers, where that has no switch
        and depends on both; None elsewhere
    """

    def __init__(
        self,
        board: Board,
        box: Item,
        cuts: Sequence[Cut],
        measure: Measure,
        fixed: Mapping[str, bool],
        between: Callable[[int, int], Sequence[Item] | None],
    ) -> None:
        self.box, self.between = box, between
        follow = measure.reference not in (None, "direct")
        ideal = measure.frequency if follow else None
        self.sides = Sides(board, measure.frequency, ideal, measure.reference or "ideal")
        self.weights, self.fixed = measure.column_weights(), fixed
        self._exact: dict[tuple[int, int], float] = {}
        self._reached: dict[int, dict[int, tuple[float, bool]]] = {}
        keep = {place for cut in cuts for place in (cut.before, cut.behind)}
        with np.errstate(all="ignore"):
            self.graph = graph_of(self.sides, fixed, keep)
            places = self.graph.places
            last = self.graph.nodes - 1
            # By node and p, q or r, s: all that a stretch can begin and end with.
            self.starts = [(0, self.graph.start[:, None]), *(self._start(cut, box) for cut in cuts)]
            self.ends = [*((places[c.before], self._input(c, box)) for c in cuts)]
            self.ends.append((last, self.graph.end))

    def _start(self, cut: Cut, box: Item) -> tuple[int, ComplexArray]:
        """Return the node behind a box and what starts there, shape (2, rows, columns)."""
        return self.graph.places[cut.behind], self._through(box, cut.wiring_behind)

    def _through(self, box: Item, items: Iterable[Item]) -> ComplexArray:
        """Return what comes out of a box behind some things that have no switch."""
        row = self.sides.output(box)[:, None]
        for item in items:
            options = self.sides.matrices(item, self.fixed)
            row = behind(row[:, None], options[:, :, None]).reshape(2, -1, row.shape[-1])
        return row

    def _input(self, cut: Cut, box: Item) -> ComplexArray:
        column = self.sides.input(box)
        for item in reversed(cut.wiring_before):
            column = before(self.sides.matrix(item, True), column)
        return column

    @cached_property
    def disks(self) -> list[Disks]:
        """What can follow each node, boxes too."""
        loads: dict[int, list[ComplexArray]] = {}
        for node, (r, s) in self.ends[:-1]:
            loads.setdefault(node, []).append(s / r)
        return enclosures(self.graph, loads)

    @cached_property
    def turned_disks(self) -> list[Disks]:
        """The same from the other end."""
        last = self.graph.nodes - 1
        sources: dict[int, list[ComplexArray]] = {}
        for node, (p, q) in self.starts[1:]:
            sources.setdefault(last - node, []).extend(q / p)
        return enclosures(self.graph.turned(), sources)

    def largest(self, start: int, end: int) -> float:
        """Return the largest measure of one stretch [dB].

        Parameters
        ----------
        start, end : the numbers of its ends: 0 is the instrument and the destination is the last,
            between them are the places from 1
        """
        key = start, end
        if key not in self._exact:
            low, sure = self._outer(key) or self._from(start)[end]
            with np.errstate(all="ignore"):
                self._exact[key] = low if sure else self._alone(start, end - 1) * NEPER_DB
        return self._exact[key]

    def least(self, start: int, end: int) -> float:
        """Return what the largest measure of one stretch is at least [dB]; quicker to find."""
        low, _ = self._outer((start, end)) or self._from(start)[end]
        return self._exact.get((start, end), low)

    def _outer(self, key: tuple[int, int]) -> tuple[float, bool] | None:
        """Return a stretch from the instrument or to the destination, which two walks tell."""
        start, end = key
        if end == len(self.ends) and start:
            return self._to_end[start]
        return None

    @cached_property
    def _to_end(self) -> dict[int, tuple[float, bool]]:
        """The stretches to the destination, and whether each is proven."""
        graph, last = self.graph.turned(), self.graph.nodes - 1
        criteria = Criteria.of(self.weights[:, None])
        with np.errstate(all="ignore"):
            columns = Sweep(graph, lambda: self.turned_disks, criteria).rows(_MOST_ROWS)
            return {
                number: _met(columns[last - node], Rows.first(row, criteria), criteria)
                for number, (node, row) in enumerate(self.starts)
            }

    def _from(self, start: int) -> dict[int, tuple[float, bool]]:
        """Return the stretches from one place to all later ones, and whether each is proven."""
        if start not in self._reached:
            first, row = self.starts[start]
            criteria = Criteria.of(self.weights[:, None])
            graph = self.graph.between(first, self.graph.nodes - 1, row, self.graph.end)
            with np.errstate(all="ignore"):
                rows = Sweep(graph, lambda: self.disks[first:], criteria).rows(_MOST_ROWS)
                self._reached[start] = {
                    end + 1: _met(*self._meet(start, end + 1, rows), criteria)
                    for end in range(start, len(self.ends))
                }
        return self._reached[start]

    def _meet(self, start: int, end: int, rows: Sequence[Rows | None]) -> tuple[Rows | None, Rows]:
        """Return what meets at the end of a stretch."""
        criteria = Criteria.of(self.weights[:, None])
        neighbours = 0 < start < end < len(self.ends)
        items = self.between(start, end) if neighbours else None
        if items is not None:
            row = self._through(self.box, items)
            return Rows.first(row, criteria), Rows.first(self.sides.input(self.box), criteria)
        node, column = self.ends[end - 1]
        return rows[max(0, node - self.starts[start][0])], Rows.first(column, criteria)

    def _alone(self, start: int, end: int) -> float:
        """Return the largest score [nepers] of one stretch, not a number where nothing is heard."""
        (first, row), (last, column) = self.starts[start], self.ends[end]
        criteria = Criteria.of(self.weights[:, None])
        graph = self.graph.between(first, last, row, column)
        nodes = self.graph.nodes
        around, turned = slice(first, last + 1), slice(nodes - 1 - last, nodes - first)
        straight = Sweep(graph, lambda: self.disks[around], criteria)
        back = Sweep(graph.turned(), lambda: self.turned_disks[turned], criteria)
        ways, _ = best_of(straight, back, 1, np.inf)
        return ways[0].score if ways else math.nan


def _met(rows: Rows | None, others: Rows, criteria: Criteria) -> tuple[float, bool]:
    """Return the largest measure [dB] of rows with what they meet, and whether it is proven."""
    if rows is None:
        return math.nan, True
    found = scores(rows, others, criteria)[..., 0].max(axis=1)
    best = float(found.max())
    return best * NEPER_DB, float((found + rows.slack).max()) <= best + NO_SLACK
