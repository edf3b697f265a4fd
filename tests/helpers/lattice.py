"""The shortest way of a cable by brute force: a walk on the whole centimetres of a board.

Written from what a way is, without the program. Boxes are closed: a way goes around them, be it as
near as one likes, and the shortest is the limit. So every crossing of the lattice is four places,
one in each of the cells around it, no distance apart. A place in a box is forbidden, and one goes
from place to place if neither is: along the lattice in 1 cm, across a line in nothing. Between
boxes that touch there is no place.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Iterator

# Of a box: left, near, right, back [cm].
Closed = tuple[int, int, int, int]
# A place: twice the lattice's number for the cell before a line, and one more for that behind it.
Place = tuple[int, int]
Heading = tuple[int, int]

# How far ways may lie outside all boxes and plugs [cm].
_MARGIN = 1
# More than a way has corners.
_LENGTH = 1000


class Lattice:
    """A board in whole centimetres with boxes on it."""

    def __init__(self, boxes: Iterable[Closed], reach: int) -> None:
        self.boxes = list(boxes)
        wide = reach + _MARGIN
        self.x = min(b[0] for b in self.boxes) - wide, max(b[2] for b in self.boxes) + wide
        self.y = min(b[1] for b in self.boxes) - wide, max(b[3] for b in self.boxes) + wide
        self.taken = {
            (x, y)
            for left, near, right, back in self.boxes
            for x in range(left, right)
            for y in range(near, back)
        }

    def free(self, place: Place) -> bool:
        """Return whether a place is in no box: 2x is in the cell before x, 2x + 1 behind it."""
        return ((place[0] - 1) // 2, (place[1] - 1) // 2) not in self.taken

    def beside(self, place: Place, heading: Heading) -> tuple[Place, int] | None:
        """Return the next place and how far it is, None where a box or the end of all is."""
        there = place[0] + heading[0], place[1] + heading[1]
        if not (2 * self.x[0] <= there[0] <= 2 * self.x[1] + 1):
            return None
        if not (2 * self.y[0] <= there[1] <= 2 * self.y[1] + 1) or not self.free(there):
            return None
        coordinate = 0 if heading[0] else 1
        return there, int(place[coordinate] // 2 != there[coordinate] // 2)

    def plug(self, jack: tuple[int, int], out: Heading, length: int) -> tuple[set[Place], int]:
        """Return the places where a plug ends, and how long it is there: none if it is shut in."""
        across = (out[1], out[0])
        x, y = jack
        around = [(2 * x + i, 2 * y + j) for i in (0, 1) for j in (0, 1)]
        coordinate, ahead = (0, out[0] > 0) if out[0] else (1, out[1] > 0)
        here = {p for p in around if (p[coordinate] % 2 == 1) == ahead and self.free(p)}
        gone = 0
        while here and gone < length:
            here = {self._step(p, out) for p in here}
            gone += 1
            if gone == length:
                break
            here |= {q for p in here for q in self._sides(p, across)}
            beyond = {self._step(p, out) for p in here}
            beyond = {p for p in beyond if self.free(p)}
            if not beyond:
                break
            here = beyond | {q for p in beyond for q in self._sides(p, across)}
        return here, gone

    def _step(self, place: Place, heading: Heading) -> Place:
        return place[0] + heading[0], place[1] + heading[1]

    def _sides(self, place: Place, across: Heading) -> Iterator[Place]:
        """Yield the places of the same crossing on the other side of the line of a plug."""
        for sign in (1, -1):
            there = place[0] + sign * across[0], place[1] + sign * across[1]
            if (
                there[0] // 2 == place[0] // 2
                and there[1] // 2 == place[1] // 2
                and self.free(there)
            ):
                yield there

    def shortest(
        self, begin: set[Place], out: Heading | None, end: set[Place], into: Heading | None
    ) -> tuple[int, int] | None:
        """Return the length of the shortest way [cm] and its fewest corners, None where none is.

        A quarter turn is one corner. Where there is a plug, a way begins or ends with its heading.
        """
        headings = [(1, 0), (0, 1), (-1, 0), (0, -1)]
        first = [headings.index(out)] if out else range(4)
        queue = [(0, place, heading) for place in begin for heading in first]
        heapq.heapify(queue)
        done = set()
        while queue:
            cost, place, heading = heapq.heappop(queue)
            if (place, heading) in done:
                continue
            done.add((place, heading))
            if place in end and (into is None or headings[heading] == into):
                return divmod(cost, _LENGTH)
            for turned in (1, 3):
                heapq.heappush(queue, (cost + 1, place, (heading + turned) % 4))
            for sidewise in range(4):
                next_ = self.beside(place, headings[sidewise])
                # To get nearer to a line or farther from it, by nothing, is no corner.
                if next_ and (sidewise == heading or not next_[1]):
                    heapq.heappush(queue, (cost + _LENGTH * next_[1], next_[0], heading))
        return None
