"""Arrangements of boxes in rows, many at once: where all boxes then stand."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations, pairwise
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

import numpy as np

from sigsim.layout.checks import SLIP, beyond, overlapping
from sigsim.layout.exact import Rect, spot, whole
from sigsim.layout.placing import placed

if TYPE_CHECKING:
    import random
    from collections.abc import Sequence

    import numpy.typing as npt

    from sigsim.layout.model import Box, Layout

    Whole: TypeAlias = npt.NDArray[np.int64]
    Flags: TypeAlias = npt.NDArray[np.bool_]


class Arrangement(NamedTuple):
    """Boxes in rows, as numbers in the order of the layout: the back row first, from left to right.

    Attributes
    ----------
    order : of all boxes that move
    lengths : how many of them stand in each row
    """

    order: tuple[int, ...]
    lengths: tuple[int, ...]

    @property
    def rows(self) -> list[tuple[int, ...]]:
        """The numbers in each row."""
        ends = np.cumsum(self.lengths).tolist()
        return [self.order[end - n : end] for end, n in zip(ends, self.lengths, strict=True)]


@dataclass(frozen=True, eq=False)
class Standing:
    """Where boxes stand in each of many arrangements.

    Attributes
    ----------
    left, near : edges of each box [nm], (boxes, arrangements)
    row : of each box, (boxes, arrangements)
    row_near : of each row [nm], (rows, arrangements)
    row_right : of each row [nm], (rows, arrangements)
    """

    left: Whole
    near: Whole
    row: Whole
    row_near: Whole
    row_right: Whole


class Rows:
    """What of a layout can be arranged anew: the boxes without a place, in the rows that have some.

    Parameters
    ----------
    layout : as it is now
    """

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        moving = [[name for name in row if self._moves(name)] for row in layout.rows]
        self.now = Arrangement(
            tuple(range(sum(map(len, moving)))), tuple(len(row) for row in moving if row)
        )
        self.names = tuple(name for row in moving for name in row)
        self.boxes: tuple[Box, ...] = tuple(layout.boxes[name] for name in self.names)
        self.widths = np.array([whole(box.width) for box in self.boxes], dtype=np.int64)
        self.depths = np.array([whole(box.depth) for box in self.boxes], dtype=np.int64)
        self.gap = whole(layout.gap)
        self._row_now = np.repeat(np.arange(len(self.now.lengths)), self.now.lengths)

    def _moves(self, name: str) -> bool:
        box = self.layout.boxes.get(name)
        return box is not None and box.place is None

    @cached_property
    def fixed(self) -> dict[str, Rect]:
        """The outlines of boxes that stay where they are [nm]."""
        return {n: rect for n, rect in placed(self.layout).items() if n not in self.names}

    def count(self) -> int:
        """Return how many arrangements there are."""
        boxes, rows = len(self.names), len(self.now.lengths)
        return math.factorial(boxes) * math.comb(max(boxes - 1, 0), max(rows - 1, 0))

    def all_lengths(self) -> Whole:
        """Return the ways to fill as many rows as there are, none of them empty, (ways, rows)."""
        boxes, rows = len(self.names), len(self.now.lengths)
        cuts = combinations(range(1, boxes), rows - 1)
        found = [[b - a for a, b in pairwise((0, *cut, boxes))] for cut in cuts]
        return np.array(found, dtype=np.int64)

    def standing(self, orders: Whole, lengths: Whole) -> Standing:
        """Return where all boxes stand.

        Parameters
        ----------
        orders : (arrangements, boxes)
        lengths : of the rows, (arrangements, rows)
        """
        (many, boxes), count = orders.shape, lengths.shape[1]
        at = np.arange(many)
        ends = lengths.cumsum(axis=1)
        left, near, row = (np.zeros((boxes, many), dtype=np.int64) for _ in range(3))
        deep, row_near, row_right = (np.zeros((count, many), dtype=np.int64) for _ in range(3))
        x = np.zeros(many, dtype=np.int64)
        for place in range(boxes):
            box, number = orders[:, place], (ends <= place).sum(axis=1)
            x[(ends == place).any(axis=1)] = 0
            left[box, at], row[box, at] = x, number
            x = x + self.widths[box]
            row_right[number, at] = x
            x = x + self.gap
            deep[number, at] = np.maximum(deep[number, at], self.depths[box])
        for front in reversed(range(1, count)):
            row_near[front - 1] = row_near[front] + deep[front] + self.gap
        for name in range(boxes):
            near[name] = row_near[row[name], at]
        return Standing(left, near, row, row_near, row_right)

    def outlines(self, standing: Standing, number: int) -> dict[str, Rect]:
        """Return all outlines in one of many arrangements [nm].

        Parameters
        ----------
        standing : where boxes stand in each of them
        number : which of them
        """
        left, near = standing.left[:, number], standing.near[:, number]
        edges = left, near, left + self.widths, near + self.depths
        corners = np.stack(edges, axis=1).tolist()
        moving = {name: Rect(*four) for name, four in zip(self.names, corners, strict=True)}
        return moving | self.fixed

    def permitted(self, standing: Standing, *, fits: bool = False) -> Flags:
        """Return where no box newly overlaps another or hangs over farther than any does now.

        Parameters
        ----------
        standing : where boxes stand
        fits : whether no box that moves may do so at all, be it that it does now
        """
        rects, size = placed(self.layout), spot(self.layout.size)
        over, together = ({}, set()) if fits else (beyond(rects, size), set(overlapping(rects)))
        # In a row that is too long something hangs over in any order: be it another box.
        right_most, back_most = (
            max(
                (by for (name, at), by in over.items() if at == edge and name in self.names),
                default=SLIP,
            )
            for edge in ("right", "back")
        )
        good = np.ones(standing.left.shape[1], dtype=np.bool_)
        for number, name in enumerate(self.names):
            left, near = standing.left[number], standing.near[number]
            right, back = left + self.widths[number], near + self.depths[number]
            good &= (right - size[0] <= right_most) & (back - size[1] <= back_most)
            for other, rect in self.fixed.items():
                if not {(name, other), (other, name)} & together:
                    wide = np.minimum(right, rect.right) - np.maximum(left, rect.left)
                    deep = np.minimum(back, rect.back) - np.maximum(near, rect.near)
                    good &= np.minimum(wide, deep) <= SLIP
        return good

    def turned(self, orders: Whole) -> Whole:
        """Return how many pairs of boxes are turned round, as one reads them row by row.

        Parameters
        ----------
        orders : (arrangements, boxes)
        """
        pairs = combinations(range(orders.shape[1]), 2)
        found = np.zeros(len(orders), dtype=np.int64)
        for one, other in pairs:
            found += orders[:, one] > orders[:, other]
        return found

    def moved(self, standing: Standing) -> Whole:
        """Return how many boxes stand in another row."""
        return np.asarray((standing.row != self._row_now[:, None]).sum(axis=0), dtype=np.int64)

    def named(self, arrangement: Arrangement) -> tuple[tuple[str, ...], ...]:
        """Return all rows of the layout with boxes in another arrangement.

        Names in a row that stand at a place of their own stay where they are named.
        """
        rows = iter(arrangement.rows)
        found = []
        for names in self.layout.rows:
            staying = [(at, name) for at, name in enumerate(names) if not self._moves(name)]
            filled = len(staying) < len(names)
            row = [self.names[number] for number in next(rows)] if filled else []
            for at, name in staying:
                row.insert(at, name)
            found.append(tuple(row))
        return tuple(found)


def all_orders(boxes: int) -> Whole:
    """Return all orders of so many boxes, sorted, (orders, boxes)."""
    found = np.zeros((1, 0), dtype=np.int64)
    for count in range(1, boxes + 1):
        first = np.repeat(np.arange(count), len(found))
        rest = np.tile(found, (count, 1))
        found = np.column_stack([first, rest + (rest >= first[:, None])])
    return found


def some_orders(chance: random.Random, boxes: int, rows: int, many: int) -> tuple[Whole, Whole]:
    """Return orders by chance and lengths of rows, none of them empty.

    Parameters
    ----------
    chance : decides
    boxes, rows : how many there are
    many : how many orders
    """
    orders = np.array([chance.sample(range(boxes), boxes) for _ in range(many)], dtype=np.int64)
    cuts = [sorted(chance.sample(range(1, boxes), rows - 1)) for _ in range(many)]
    lengths = [[b - a for a, b in pairwise((0, *cut, boxes))] for cut in cuts]
    return orders, np.array(lengths, dtype=np.int64)


def neighbours(of: Arrangement) -> tuple[Whole, Whole]:
    """Return the orders one swap of boxes or rows or one move away, and the lengths of rows.

    Parameters
    ----------
    of : where they begin
    """
    rows = [list(row) for row in of.rows]
    places = [(row, at) for row, names in enumerate(rows) for at in range(len(names))]
    found: dict[Arrangement, None] = {}
    for (row, at), (other, there) in combinations(places, 2):
        swapped = [list(names) for names in rows]
        swapped[row][at], swapped[other][there] = rows[other][there], rows[row][at]
        found[_told(swapped)] = None
    for row, at in places:
        for other in range(len(rows)):
            for there in range(len(rows[other]) + (other != row)):
                moved = [list(names) for names in rows]
                moved[other].insert(there, moved[row].pop(at))
                if moved[row]:
                    found[_told(moved)] = None
    for row, other in combinations(range(len(rows)), 2):
        changed = list(rows)
        changed[row], changed[other] = rows[other], rows[row]
        found[_told(changed)] = None
    found.pop(of, None)
    return (
        np.array([told.order for told in found], dtype=np.int64).reshape(-1, len(of.order)),
        np.array([told.lengths for told in found], dtype=np.int64).reshape(-1, len(of.lengths)),
    )


def _told(rows: Sequence[Sequence[int]]) -> Arrangement:
    order = tuple(number for row in rows for number in row)
    return Arrangement(order, tuple(map(len, rows)))
