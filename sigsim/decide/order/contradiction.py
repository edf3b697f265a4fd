"""The smallest set of constraints that no order obeys.

Two fixed places that are one, or a circle, contradict each other by themselves, and so do two
fixed boxes of which the second is to stand before the first. All else comes down to a window: the
places between two fixed boxes, or between one and an end of the level, and more boxes that are held
in it than it has places.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, TypeAlias

from sigsim.decide.order.feasible import order_of
from sigsim.decide.order.window import Edges, Window, smallest_in

if TYPE_CHECKING:
    from sigsim.decide.order.question import Constraint, Question

# The numbers of constraints in the order of the file.
_Set: TypeAlias = tuple[int, ...]


def contradiction(question: Question) -> tuple[Constraint, ...]:
    """Return the smallest set of constraints that no order obeys, empty if one obeys all.

    Among sets of one size it is that which the file has first: with the least sum of numbers. A
    buffer that is put in contradicts nothing, because it may come last.
    """
    return smallest(len(question.boxes), question.constraints)


def smallest(count: int, constraints: Sequence[Constraint]) -> tuple[Constraint, ...]:
    """Return the smallest set of constraints on so many boxes that no order obeys."""
    given = [one for one in constraints if max(one.first, one.second) < count]
    if order_of(count, given) is not None:
        return ()
    fixed = [(number, one) for number, one in enumerate(given) if one.rule == "fixed"]
    edges: Edges = {}
    for number, one in enumerate(given):
        if one.rule != "fixed":
            edges.setdefault((one.first, one.second), number)
    found = [*_twice(fixed), *_circles(count, edges), *_turned(fixed, edges)]
    best = min(found, key=_rank, default=None)
    for window in sorted(_windows(count, fixed), key=lambda window: window.least):
        if best is not None and window.least > len(best):
            break
        held = smallest_in(window, edges)
        if held is not None:
            best = min((best or held, held), key=_rank)
    assert best is not None, "constraints that no order obeys contradict each other somewhere"
    return tuple(given[number] for number in best)


def _rank(found: _Set) -> tuple[int, int, _Set]:
    return len(found), sum(found), found


def _twice(fixed: Sequence[tuple[int, Constraint]]) -> Iterator[_Set]:
    """Yield two fixed places of one box, and two boxes at one place."""
    for i, (one, first) in enumerate(fixed):
        for other, second in fixed[i + 1 :]:
            if (first.first == second.first) != (first.second == second.second):
                yield one, other


def _circles(count: int, edges: Edges) -> Iterator[_Set]:
    """Yield the shortest circle through each box that is on one."""
    behind = _behind(edges)
    for box in range(count):
        if (way := _ways(box, behind).get(box)) is not None:
            yield tuple(sorted(way))


def _turned(fixed: Sequence[tuple[int, Constraint]], edges: Edges) -> Iterator[_Set]:
    """Yield the shortest way from each fixed box to one whose place comes before its own."""
    behind = _behind(edges)
    for one, first in fixed:
        ways = _ways(first.first, behind)
        for other, second in fixed:
            if second.second < first.second and second.first in ways:
                yield tuple(sorted((one, other, *ways[second.first])))


def _behind(edges: Edges) -> Mapping[int, list[tuple[int, int]]]:
    """Return what is to stand behind each box, each with the constraint that says so."""
    behind: dict[int, list[tuple[int, int]]] = {}
    for (first, second), number in edges.items():
        behind.setdefault(first, []).append((second, number))
    return behind


def _ways(start: int, behind: Mapping[int, list[tuple[int, int]]]) -> dict[int, _Set]:
    """Return the shortest way from a box to each that is to stand behind it, itself too."""
    ways: dict[int, _Set] = {}
    waiting: list[tuple[int, int, _Set, int]] = [(0, 0, (), start)]
    while waiting:
        length, total, way, box = heapq.heappop(waiting)
        if box in ways:
            continue
        if way:
            ways[box] = way
        for later, number in behind.get(box, ()):
            if later not in ways:
                heapq.heappush(waiting, (length + 1, total + number, (*way, number), later))
    return ways


def _windows(count: int, fixed: Sequence[tuple[int, Constraint]]) -> Iterator[Window]:
    """Yield the windows between fixed boxes and the ends of the level."""
    edges = [(number, one.first, one.second) for number, one in fixed]
    for lower in (None, *edges):
        for upper in (None, *edges):
            first = -1 if lower is None else lower[2]
            last = count if upper is None else upper[2]
            if first < last and (lower or upper):
                inside = {box: number for number, box, place in edges if first < place < last}
                yield Window(
                    count,
                    last - first - 1,
                    None if lower is None else lower[:2],
                    None if upper is None else upper[:2],
                    inside,
                )
