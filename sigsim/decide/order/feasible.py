"""Whether any order obeys some constraints: boxes as jobs of unit length with places to be met.

What stands behind a box with a fixed place is released after it, what stands before it is due
before it. Served by the earliest place that is due, jobs of unit length meet all of them if that
is possible at all.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sigsim.decide.order.question import Constraint, Order


def order_of(count: int, constraints: Iterable[Constraint]) -> Order | None:
    """Return an order of boxes that obeys constraints, None if there is none.

    Parameters
    ----------
    count : of the boxes
    constraints : on them
    """
    given = list(constraints)
    behind: list[set[int]] = [set() for _ in range(count)]
    release, due = [0] * count, [count - 1] * count
    for one in given:
        if one.rule == "fixed":
            release[one.first] = max(release[one.first], one.second)
            due[one.first] = min(due[one.first], one.second)
        else:
            behind[one.first].add(one.second)
    line = _line(behind)
    if line is None:
        return None
    for box in line:
        for later in behind[box]:
            release[later] = max(release[later], release[box] + 1)
    for box in reversed(line):
        due[box] = min([due[box], *(due[later] - 1 for later in behind[box])])
    left: set[int] = set(range(count))
    order: list[int] = []
    for place in range(count):
        ready = [box for box in left if release[box] <= place]
        if not ready:
            return None
        box = min(ready, key=lambda one: (due[one], one))
        if due[box] < place:
            return None
        left.remove(box)
        order.append(box)
    return tuple(order)


def _line(behind: Sequence[set[int]]) -> list[int] | None:
    """Return boxes so that each comes before what is behind it, None where they go in a circle."""
    waiting = [0] * len(behind)
    for boxes in behind:
        for box in boxes:
            waiting[box] += 1
    line = [box for box, count in enumerate(waiting) if not count]
    for box in line:
        for later in behind[box]:
            waiting[later] -= 1
            if not waiting[later]:
                line.append(later)
    return line if len(line) == len(behind) else None


def nearest_order(count: int, constraints: Sequence[Constraint]) -> Order | None:
    """Return an order that obeys constraints and follows the file as long as it can.

    None if there is none.
    """
    if order_of(count, constraints) is None:
        return None
    from sigsim.decide.order.question import Constraint

    order: list[int] = []
    given = list(constraints)
    while len(order) < count:
        for box in range(count):
            if box in order:
                continue
            placed = Constraint("fixed", "", "", box, len(order))
            if order_of(count, [*given, placed]) is not None:
                given.append(placed)
                order.append(box)
                break
    return tuple(order)
