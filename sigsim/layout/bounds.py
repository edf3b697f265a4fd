"""No run can be shorter: bounds for many arrangements at once.

A bound looks at one row at a time and forgets all other boxes, but for how far plugs go. Where a
box of that row stands between the ends of a way, the way passes it in front of the row or behind
the box: past all in front, or past all behind the deepest of them, for to change sides on the way
is never shorter than the first. With a gap between boxes this is the shortest way itself, where no
other row and no box with a place is in it.

How far a plug goes is told from all boxes, and rather too short where it slides along an outline:
a plug that is shorter by some length leaves a way that is longer by no more than that.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np

from sigsim.layout.exact import Rect, whole
from sigsim.layout.jacks import At, jack_at
from sigsim.layout.ways import between, length_of, plugged

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import numpy.typing as npt

    from sigsim.layout.arranging import Rows, Standing
    from sigsim.layout.exact import Heading
    from sigsim.layout.floor import Floor
    from sigsim.layout.model import Socket

    Whole: TypeAlias = npt.NDArray[np.int64]
    Flags: TypeAlias = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class _Jack:
    """A jack: of a box that moves (its number), from its near left corner; or of one that stays."""

    name: str
    box: int | None
    x: int
    y: int
    out: Heading


@dataclass(frozen=True, eq=False)
class _Plug:
    """A plug in many arrangements: where it ends, how long it is, and whether it is shut in."""

    x: Whole
    y: Whole
    length: Whole
    shut: Flags


@dataclass(frozen=True)
class _Still:
    """A run between boxes that stay, were there no others; and the lengths of its plugs [nm]."""

    length: int
    plugs: tuple[int, int]


class Bounds:
    """Bounds on the runs between jacks.

    Parameters
    ----------
    rows : what is arranged
    floor : of the layout as it is now
    links : all of them between jacks that stand somewhere
    """

    def __init__(self, rows: Rows, floor: Floor, links: Sequence[tuple[Socket, Socket]]) -> None:
        self.rows = rows
        self.links = links
        self._plug = whole(rows.layout.plug_length)
        self._jacks = {socket: self._jack(floor, socket) for link in links for socket in link}
        self._still = [self._run(*link) for link in links]

    def _jack(self, floor: Floor, socket: Socket) -> _Jack:
        name = floor.box_of(socket.name) or socket.name
        box = self.rows.layout.boxes[name]
        moves = name in self.rows.names
        corner = Rect(0, 0, whole(box.width), whole(box.depth))
        at = jack_at(box, corner if moves else floor.rects[name], socket)
        if at is None:
            raise ValueError(f"{socket} is no jack of a box")
        return _Jack(name, self.rows.names.index(name) if moves else None, *at.spot, at.out)

    def _run(self, begin: Socket, end: Socket) -> _Still | Literal["moves", "no way"]:
        """Return the run between two boxes that stay, if only such boxes stood there."""
        jacks = self._jacks[begin], self._jacks[end]
        if any(jack.box is not None for jack in jacks):
            return "moves"
        rects = tuple(self.rows.fixed.values())
        one, two = (plugged(At((jack.x, jack.y), jack.out), rects, self._plug) for jack in jacks)
        corners = between(rects, one, two)
        if corners is None:
            return "no way"
        return _Still(length_of(corners), (one.length, two.length))

    def of(self, standing: Standing) -> tuple[Whole, Whole]:
        """Return a bound for each link, and how many have no way for certain.

        Parameters
        ----------
        standing : where boxes stand in each arrangement

        Returns
        -------
        Bounds [nm], (links, arrangements), 0 for what has no way; and how many those are.
        """
        plugs = {socket: self._plugged(jack, standing) for socket, jack in self._jacks.items()}
        many = standing.left.shape[1]
        bounds = np.zeros((len(self.links), many), dtype=np.int64)
        impossible = np.zeros(many, dtype=np.int64)
        for number, (link, still) in enumerate(zip(self.links, self._still, strict=True)):
            one, two = plugs[link[0]], plugs[link[1]]
            shut = one.shut | two.shut | (still == "no way")
            way = one.length + two.length + self._between(one, two, standing)
            if isinstance(still, _Still):
                # Shorter plugs leave a longer way, by no more than that.
                less = 2 * (sum(still.plugs) - one.length - two.length)
                way = np.maximum(way, still.length - np.maximum(less, 0))
            bounds[number] = np.where(shut, 0, way)
            impossible += shut
        return bounds, impossible

    def _plugged(self, jack: _Jack, standing: Standing) -> _Plug:
        many = standing.left.shape[1]
        x, y = np.full(many, jack.x), np.full(many, jack.y)
        if jack.box is not None:
            x, y = x + standing.left[jack.box], y + standing.near[jack.box]
        free, shut = np.full(many, self._plug), np.zeros(many, dtype=np.bool_)
        dx, dy = jack.out
        for name, moves, (left, near, right, back) in self._outlines(standing):
            if name == jack.name:
                continue
            along, across = ((left - x, right - x), (near - y, back - y))[:: 1 if dx else -1]
            first, last = along if dx + dy > 0 else (-along[1], -along[0])
            # Along an outline a plug may or may not go. Beside boxes of its own row it does.
            slides = moves and jack.box is not None and dx != 0
            hits = (across[0] < 0) & (across[1] > 0) & (last > 0)
            meets = hits if slides else (across[0] <= 0) & (across[1] >= 0) & (last > 0)
            free = np.where(meets, np.minimum(free, np.maximum(first, 0)), free)
            shut |= hits & (first <= 0)
        return _Plug(x + dx * free, y + dy * free, free, shut)

    def _outlines(
        self, standing: Standing
    ) -> Iterator[tuple[str, bool, tuple[Whole, Whole, Whole, Whole]]]:
        """Yield the boxes with their outlines, and whether they move."""
        rows = self.rows
        for number, name in enumerate(rows.names):
            left, near = standing.left[number], standing.near[number]
            yield name, True, (left, near, left + rows.widths[number], near + rows.depths[number])
        for name, rect in rows.fixed.items():
            left, near, right, back = np.array(rect, dtype=np.int64)[:, None]
            yield name, False, (left, near, right, back)

    def _between(self, one: _Plug, two: _Plug, standing: Standing) -> Whole:
        """Return a bound on the way between the ends of two plugs."""
        turned = one.x > two.x
        x, y = np.where(turned, two.x, one.x), np.where(turned, two.y, one.y)
        u, v = np.where(turned, one.x, two.x), np.where(turned, one.y, two.y)
        wide = u - x
        best: Whole = wide + np.abs(v - y)
        for row in range(len(standing.row_near)):
            near = standing.row_near[row]
            top = np.maximum(y, v)
            some = np.zeros(len(x), dtype=np.bool_)
            for box in range(len(self.rows.names)):
                left = standing.left[box]
                inside = (left >= x) & (left + self.rows.widths[box] <= u)
                inside &= standing.row[box] == row
                top = np.where(inside, np.maximum(top, near + self.rows.depths[box]), top)
                some |= inside
            behind = wide + 2 * top - y - v
            front = wide + y + v - 2 * np.minimum(np.minimum(y, v), near)
            if self.rows.gap == 0:
                # No way leads between the boxes: what is not at an end of the row goes round one.
                right = standing.row_right[row]
                begins, ends = ((a > 0) & (a < right) & (b > near) for a, b in ((x, y), (u, v)))
                front = front + 2 * np.where(begins, x, 0) + 2 * np.where(ends, right - u, 0)
            best = np.where(some, np.maximum(best, np.minimum(behind, front)), best)
        return best
