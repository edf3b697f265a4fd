"""The largest measure of each stretch that boxes in some places would cut a chain into.

A box that is always on isolates, so that what is before it and what is behind it add up, whatever
is on. The boxes are tried without being there: each place is an output to start from and an input
to end at, and one walk from each output meets all later inputs.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.states.board_graph import Sides, before, behind, graph_of
from sigsim.states.disks import enclosures
from sigsim.states.rows import NEPER_DB, Criteria, Rows, scores
from sigsim.states.sweep import NO_SLACK, Sweep, best_of

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.items.base import Item
    from sigsim.physics.arrays import ComplexArray
    from sigsim.states.disks import Disks
    from sigsim.states.measure import Measure

# Rows kept at a node: where more could matter, a stretch is searched alone.
_MOST_ROWS: Final = 64


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
    """

    def __init__(
        self,
        board: Board,
        box: Item,
        cuts: Sequence[Cut],
        measure: Measure,
        fixed: Mapping[str, bool],
    ) -> None:
        follow = measure.reference not in (None, "direct")
        ideal = measure.frequency if follow else None
        self.sides = Sides(board, measure.frequency, ideal, measure.reference or "ideal")
        self.weights, self.fixed = measure.column_weights(), fixed
        self.box, self.cuts = box, cuts
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
        row = self.sides.output(box)[:, None]
        for item in cut.wiring_behind:
            options = self.sides.matrices(item, self.fixed)
            row = behind(row[:, None], options[:, :, None]).reshape(2, -1, row.shape[-1])
        return self.graph.places[cut.behind], row

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

    def largest(self) -> dict[tuple[int, int], float]:
        """Return the largest measure [dB] of each stretch.

        Returns
        -------
        by the numbers of its ends: 0 is the instrument and the destination is the last, between
        them are the places from 1
        """
        found: dict[tuple[int, int], float] = {}
        with np.errstate(all="ignore"):
            for start in range(len(self.starts)):
                found |= self._from(start)
        return found

    def _from(self, start: int) -> dict[tuple[int, int], float]:
        first, row = self.starts[start]
        criteria = Criteria.of(self.weights[:, None])
        graph = self.graph.between(first, self.graph.nodes - 1, row, self.graph.end)
        rows = Sweep(graph, lambda: self.disks[first:], criteria).rows(_MOST_ROWS)
        found: dict[tuple[int, int], float] = {}
        for end in range(start, len(self.ends)):
            node, column = self.ends[end]
            if node < first:
                found[start, end + 1] = self._beside(start, end)
                continue
            reached = rows[node - first]
            value = math.nan
            if reached is not None:
                score = scores(reached, Rows.first(column, criteria), criteria)[:, 0, 0]
                best = float(score.max())
                if float((score + reached.slack).max()) > best + NO_SLACK:
                    best = self._alone(start, end)
                value = best * NEPER_DB
            found[start, end + 1] = value
        return found

    def _beside(self, start: int, end: int) -> float:
        """Return the largest measure [dB] between two boxes with splits alone between them.

        What the first of them moves along reaches beyond the second.
        """
        cut, other = self.cuts[start - 1], self.cuts[end]
        moved = cut.wiring_behind[: other.before - cut.before]
        wiring = cut.wiring_behind[cut.behind - cut.before :]
        part = replace(cut, behind=cut.before, wiring_behind=(*moved, *wiring))
        criteria = Criteria.of(self.weights[:, None])
        p, q = self._start(part, self.box)[1]
        rows = Rows.first(np.array([p, q]), criteria)
        column = Rows.first(self._input(other, self.box), criteria)
        return float(scores(rows, column, criteria).max()) * NEPER_DB

    def _alone(self, start: int, end: int) -> float:
        """Return the largest score [nepers] of one stretch."""
        (first, row), (last, column) = self.starts[start], self.ends[end]
        criteria = Criteria.of(self.weights[:, None])
        graph = self.graph.between(first, last, row, column)
        nodes = self.graph.nodes
        around, turned = slice(first, last + 1), slice(nodes - 1 - last, nodes - first)
        straight = Sweep(graph, lambda: self.disks[around], criteria)
        back = Sweep(graph.turned(), lambda: self.turned_disks[turned], criteria)
        ways, _ = best_of(straight, back, 1, np.inf)
        return ways[0].score
