"""The fewest constraints that hold more boxes in a window than it has places.

A box is held by its own fixed place in the window, or by standing behind another that is held, or
behind the window's lower edge, and before another that is held, or its upper edge. So the fewest
are an edge cover with one sum: a small program of whole numbers.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from sigsim.decide.solver import solved

# By the boxes of which the first stands before the second, the constraint that says so.
Edges: TypeAlias = dict[tuple[int, int], int]


@dataclass(frozen=True)
class Window:
    """Places that follow one another.

    Attributes
    ----------
    count : of all boxes
    room : how many places there are
    lower, upper : the constraint that fixes the box before the first place or behind the last one,
        and that box; None where the level begins or ends
    inside : the constraints that fix boxes in the window, by their boxes
    """

    count: int
    room: int
    lower: tuple[int, int] | None
    upper: tuple[int, int] | None
    inside: Mapping[int, int]

    @property
    def edges(self) -> set[int]:
        """The boxes that are fixed before and behind it."""
        return _box(self.lower) | _box(self.upper)

    @property
    def least(self) -> int:
        """How many constraints it takes at least to hold too many boxes in it."""
        sides = (self.lower is not None) + (self.upper is not None)
        return sides + self.room + 1 + (sides == 2)


def smallest_in(window: Window, edges: Edges) -> tuple[int, ...] | None:
    """Return the fewest constraints that hold too many boxes in a window, None if none do.

    Among sets of one size it is one with the least sum of numbers.
    """
    held = _reached(window, edges)
    if len(held | set(window.inside)) <= window.room:
        return None
    program = _Program(window, edges, sorted(held))
    fewest = program.least([1] * len(program.numbers))
    if fewest is None:
        return None
    first = program.least(program.numbers, count=len(fewest))
    sides = [side[0] for side in (window.lower, window.upper) if side is not None]
    return tuple(sorted((*(first or fewest), *sides)))


def _reached(window: Window, edges: Edges) -> set[int]:
    """Return the boxes that stand behind and before something that can be held."""
    found = set(range(window.count)) - window.edges
    for side, turned in ((window.lower, False), (window.upper, True)):
        if side is not None:
            ways: dict[int, list[int]] = {}
            for first, second in edges:
                one, other = (second, first) if turned else (first, second)
                ways.setdefault(one, []).append(other)
            line, near = [side[1], *window.inside], set[int]()
            for box in line:
                new = [other for other in ways.get(box, ()) if other not in near]
                near.update(new)
                line += new
            found &= near
    return found


class _Program:
    """The program: which constraints are taken, and which boxes those between boxes hold.

    Its variables are the constraints that fix boxes in the window, then those between boxes, then
    for each box whether the latter hold it.

    Parameters
    ----------
    window : the window
    edges : the constraints between boxes
    held : the boxes that these can hold

    Attributes
    ----------
    numbers : of the constraints
    """

    def __init__(self, window: Window, edges: Edges, held: Sequence[int]) -> None:
        between = {*held, *window.inside}
        begins, ends = between | _box(window.lower), between | _box(window.upper)
        pairs = {
            pair: number
            for pair, number in edges.items()
            if pair[0] in begins and pair[1] in ends and not between.isdisjoint(pair)
        }
        self.numbers = [*window.inside.values(), *pairs.values()]
        names: list[tuple[str, object]] = [("fixed", box) for box in window.inside]
        names += [("pair", pair) for pair in pairs]
        names += [("held", box) for box in held]
        self._index = {name: index for index, name in enumerate(names)}
        self._rows: list[tuple[dict[int, float], float, float]] = []
        for box in held:
            if window.lower is not None:
                self._covered(box, [pair for pair in pairs if pair[1] == box])
            if window.upper is not None:
                self._covered(box, [pair for pair in pairs if pair[0] == box])
            if box in window.inside:
                self._row(self._holding(box), most=1)
        for pair in pairs:
            for box in between.intersection(pair):
                holding = self._holding(box)
                self._row({**holding, self._index["pair", pair]: -1.0}, least=0)
        holding = {}
        for box in between:
            holding |= self._holding(box)
        self._row(holding, least=window.room + 1)

    def _holding(self, box: int) -> dict[int, float]:
        """Return what says that a box is held: its fixed place, or the constraints with others."""
        names = (("fixed", box), ("held", box))
        return {self._index[name]: 1.0 for name in names if name in self._index}

    def _covered(self, box: int, pairs: Iterable[tuple[int, int]]) -> None:
        """Let a box be held only with one of some constraints."""
        row = {self._index["pair", pair]: 1.0 for pair in pairs}
        self._row({**row, self._index["held", box]: -1.0}, least=0)

    def _row(self, row: dict[int, float], *, least: float = -np.inf, most: float = np.inf) -> None:
        self._rows.append((row, least, most))

    def least(self, weights: Sequence[int], *, count: int | None = None) -> list[int] | None:
        """Return the constraints with the least sum of weights, None if they hold too few boxes.

        Parameters
        ----------
        weights : of the constraints
        count : how many it has to be, None for any number
        """
        # Loaded only where something contradicts: the start of the program counts.
        from scipy.optimize import Bounds, LinearConstraint
        from scipy.sparse import coo_array

        rows = list(self._rows)
        if count is not None:
            rows.append((dict.fromkeys(range(len(self.numbers)), 1.0), count, count))
        entries = [(i, j, x) for i, (row, _, _) in enumerate(rows) for j, x in row.items()]
        at, of, value = zip(*entries, strict=True)
        size = len(self._index)
        matrix = coo_array((value, (at, of)), shape=(len(rows), size)).tocsc()
        bounds = [row[1] for row in rows], [row[2] for row in rows]
        found = solved(
            np.array([*weights, *[0] * (size - len(weights))], dtype=float),
            integrality=np.ones(size),
            bounds=Bounds(0, 1),
            constraints=LinearConstraint(matrix, *bounds),
            options={"mip_rel_gap": 0.0},
        )
        if found.x is None:
            return None
        chosen: list[int] = [
            number for number, x in zip(self.numbers, found.x, strict=False) if x > 0.5
        ]
        return chosen


def _box(side: tuple[int, int] | None) -> set[int]:
    return set() if side is None else {side[1]}
