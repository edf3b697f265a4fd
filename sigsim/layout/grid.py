"""The grid of all outlines' coordinates and two ends, and the shortest way on it.

A point of the grid has four cells around it, free or inside a box. A way can go along an edge where
a cell beside it is free; so it may touch outlines, and there is none along the edge that two boxes
share. Where two boxes touch only at their corners, free cells lie across from each other at a
point: it is two points then, one for each.

Every point is in the graph twice, for going along x and along y; to change costs far less than a
nanometre. The shortest way is therefore one with the fewest corners. Costs are whole numbers that
a double holds.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final, NamedTuple, TypeAlias

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import numpy.typing as npt

    from sigsim.layout.exact import Heading, Rect, Spot

    Whole: TypeAlias = npt.NDArray[np.int64]

# What a nanometre costs where a corner costs 1: more than there are corners in any shortest way.
_NANOMETRE: Final = 1 << 11
_LEFT: Final[Heading] = (-1, 0)
_RIGHT: Final[Heading] = (1, 0)
_NEAR: Final[Heading] = (0, -1)
_BACK: Final[Heading] = (0, 1)


class End(NamedTuple):
    """Where the part of a way on the grid begins or ends.

    Attributes
    ----------
    spot : [nm]
    out : how a plug came there from its jack; None where none did
    """

    spot: Spot
    out: Heading | None = None


class _Exit(NamedTuple):
    """A way out of an end: where it heads, and to which state in how many nanometres."""

    heading: Heading
    state: int
    length: int


def shortest(outlines: Sequence[Rect], begin: End, end: End) -> tuple[Spot, ...] | None:
    """Return points of a shortest way [nm], all its corners among them; None where there is none.

    Parameters
    ----------
    outlines : of all boxes [nm]
    begin, end : of the way
    """
    return _Grid.of(outlines, (begin.spot, end.spot)).way(begin, end)


@dataclass(frozen=True)
class _Grid:
    """A grid.

    Attributes
    ----------
    xs, ys : its lines [nm]
    inside : whether the cells before, between and behind the lines are in a box, (xs + 1, ys + 1)
    """

    xs: Whole
    ys: Whole
    inside: npt.NDArray[np.bool_]

    @classmethod
    def of(cls, outlines: Sequence[Rect], spots: Sequence[Spot]) -> _Grid:
        edges = np.array(outlines, dtype=np.int64).reshape(-1, 4)
        ends = np.array(spots, dtype=np.int64)
        xs = np.unique(np.concatenate([edges[:, 0], edges[:, 2], ends[:, 0]]))
        ys = np.unique(np.concatenate([edges[:, 1], edges[:, 3], ends[:, 1]]))
        inside = np.zeros((len(xs) + 1, len(ys) + 1), dtype=np.bool_)
        left, right = (np.searchsorted(xs, edges[:, n]) + 1 for n in (0, 2))
        near, back = (np.searchsorted(ys, edges[:, n]) + 1 for n in (1, 3))
        for box in range(len(edges)):
            inside[left[box] : right[box], near[box] : back[box]] = True
        return cls(xs, ys, inside)

    def way(self, begin: End, end: End) -> tuple[Spot, ...] | None:
        """Return the points of a shortest way [nm]."""
        first, last = list(self._exits(begin)), list(self._exits(end))
        same = {exit_.state for exit_ in first} & {exit_.state for exit_ in last}
        if begin.spot == end.spot and same:
            return (begin.spot,)
        states = self._dijkstra(begin, first, end, last)
        if states is None:
            return None
        return (begin.spot, *map(self._spot, states), end.spot)

    @cached_property
    def _crossed(self) -> tuple[Whole, Whole]:
        """Return the points whose free cells lie across: back left and near right; the others."""
        cells = self.inside
        near_left, near_right = cells[:-1, :-1], cells[1:, :-1]
        back_left, back_right = cells[:-1, 1:], cells[1:, 1:]
        alike = (near_left == back_right) & (back_left == near_right) & (near_left != back_left)
        return np.flatnonzero(alike & near_left), np.flatnonzero(alike & back_left)

    @cached_property
    def _split(self) -> Whole:
        """Return all points that are two."""
        return np.concatenate(self._crossed)

    @property
    def _points(self) -> int:
        return len(self.xs) * len(self.ys)

    @cached_property
    def _towards(self) -> dict[Heading, Whole]:
        """Return for each point the state from which one leaves it with a heading."""
        count, (back_left, near_left) = self._points, self._crossed
        along = np.arange(count)
        found = {
            _LEFT: along, _RIGHT: along.copy(), _NEAR: along + count, _BACK: along + count,
        }  # fmt: skip
        more = 2 * count + np.arange(len(self._split))
        found[_RIGHT][self._split] = more
        upright = more + len(more)
        found[_NEAR][back_left] = upright[: len(back_left)]
        found[_BACK][near_left] = upright[len(back_left) :]
        return found

    @cached_property
    def _edges(self) -> tuple[Whole, Whole, Whole]:
        """Return from where, to where and cost of all edges."""
        shape = len(self.xs), len(self.ys)
        towards = {heading: at.reshape(shape) for heading, at in self._towards.items()}
        along = ~(self.inside[1:-1, :-1] & self.inside[1:-1, 1:])
        up = ~(self.inside[:-1, 1:-1] & self.inside[1:, 1:-1])
        wide = np.broadcast_to(np.diff(self.xs)[:, None], along.shape)
        deep = np.broadcast_to(np.diff(self.ys)[None, :], up.shape)
        points = np.arange(self._points)
        again = 2 * self._points + np.arange(len(self._split))
        level = np.concatenate([points, again])
        upright = np.concatenate([points + self._points, again + len(self._split)])
        begins = [towards[_RIGHT][:-1][along], towards[_BACK][:, :-1][up], level]
        ends = [towards[_LEFT][1:][along], towards[_NEAR][:, 1:][up], upright]
        costs = [wide[along] * _NANOMETRE, deep[up] * _NANOMETRE, np.ones_like(level)]
        return np.concatenate(begins), np.concatenate(ends), np.concatenate(costs)

    def _exits(self, end: End) -> Iterator[_Exit]:
        """Yield the ways out of an end, to states of the points beside it."""
        i, j = self._place(end.spot)
        cells = self.inside[i : i + 2, j : j + 2]
        for heading in self._open_to(end, i, j):
            dx, dy = heading
            beside = cells[(dx + 1) // 2] if dx else cells[:, (dy + 1) // 2]
            x, y = i + dx, j + dy
            if not beside.all() and 0 <= x < len(self.xs) and 0 <= y < len(self.ys):
                length = abs(int(self.xs[x] - self.xs[i])) + abs(int(self.ys[y] - self.ys[j]))
                state = self._towards[-dx, -dy][x * len(self.ys) + y]
                yield _Exit(heading, int(state), length)

    def _open_to(self, end: End, i: int, j: int) -> list[Heading]:
        """Return the headings that are open to an end: where a point is two, those of its own."""
        if end.out is None:
            return list(self._towards)
        number, twice = i * len(self.ys) + j, 2 * self._points
        second = {heading: bool(at[number] >= twice) for heading, at in self._towards.items()}
        came = second[-end.out[0], -end.out[1]]
        split = number in self._split
        return [heading for heading in second if not split or second[heading] == came]

    def _dijkstra(
        self, begin: End, first: list[_Exit], end: End, last: list[_Exit]
    ) -> list[int] | None:
        """Return the states between two ends in their order, None where there is no way."""
        from scipy.sparse import coo_array
        from scipy.sparse.csgraph import dijkstra

        begins, ends, costs = self._edges
        source = 2 * (self._points + len(self._split))
        target = source + 1
        more = [(source, exit_.state, _cost(begin, exit_)) for exit_ in first]
        more += [(target, exit_.state, _cost(end, exit_)) for exit_ in last]
        more += self._straight(source, begin, first, end)
        extra = np.array(more, dtype=np.int64).reshape(-1, 3).T
        places = np.concatenate([begins, extra[0]]), np.concatenate([ends, extra[1]])
        weights = np.concatenate([costs, extra[2]]).astype(np.float64)
        graph = coo_array((weights, places), shape=(target + 1, target + 1)).tocsr()
        lengths, before = dijkstra(graph, directed=False, indices=source, return_predecessors=True)
        if not np.isfinite(lengths[target]):
            return None
        states: list[int] = []
        state = int(before[target])
        while state != source:
            states.append(state)
            state = int(before[state])
        return states[::-1]

    def _straight(
        self, source: int, begin: End, first: list[_Exit], end: End
    ) -> list[tuple[int, int, int]]:
        """Return the edge from an end to the other, where no point lies between."""
        i, j = self._place(end.spot)
        number = i * len(self.ys) + j
        for exit_ in first:
            dx, dy = exit_.heading
            back = (-dx, -dy)
            if exit_.state == self._towards[back][number] and back in self._open_to(end, i, j):
                cost = _cost(begin, exit_) + _turned(end, back)
                return [(source, source + 1, cost)]
        return []

    def _place(self, spot: Spot) -> tuple[int, int]:
        return int(np.searchsorted(self.xs, spot[0])), int(np.searchsorted(self.ys, spot[1]))

    def _spot(self, state: int) -> Spot:
        count = self._points
        if state >= 2 * count:
            state = int(self._split[(state - 2 * count) % len(self._split)])
        i, j = divmod(state % count, len(self.ys))
        return int(self.xs[i]), int(self.ys[j])


def _cost(end: End, exit_: _Exit) -> int:
    return exit_.length * _NANOMETRE + _turned(end, exit_.heading)


def _turned(end: End, heading: Heading) -> int:
    """Return how many quarter turns a cable takes where it leaves its plug."""
    if end.out is None or heading == end.out:
        return 0
    return 2 if heading == (-end.out[0], -end.out[1]) else 1
