"""Ways of cables against a walk on a lattice, and what each point of one has to be."""

from __future__ import annotations

import random
from itertools import pairwise

import pytest
from helpers.lattice import Lattice
from helpers.thinned import tries

from sigsim.layout.floor import Floor, Way
from sigsim.layout.model import Box, Layout, Point, Socket

# A nanometre: half of one is what each end of a way may be rounded by.
NM = 1e-9


def laid(*boxes: Box, plug: float = 0.02, size: Point = (0.6, 0.32), **kwargs: object) -> Floor:
    return Floor(Layout("f", size, (), {b.name: b for b in boxes}, plug_length=plug, **kwargs))  # type: ignore[arg-type]


def at(name: str, x: float, y: float, width: float, depth: float, **kwargs: object) -> Box:
    """Return a box at a place, all in cm."""
    return Box(name, width / 100, depth / 100, place=(x / 100, y / 100), **kwargs)  # type: ignore[arg-type]


def joined(floor: Floor, begin: str = "a", end: str = "b") -> Way | None:
    return floor.way(Socket(begin, "out"), Socket(end, "in"))


def on_side(rng: random.Random, width: int, depth: int) -> tuple[int, int]:
    """Return a whole position on a side of a box, on no corner; width and depth are at least 2."""
    if rng.random() < 0.5:
        return rng.choice((0, width)), rng.randint(1, depth - 1)
    return rng.randint(1, width - 1), rng.choice((0, depth))


def random_boxes(rng: random.Random) -> dict[str, Box]:
    """Return boxes on whole centimetres that stand near each other: some touch, some overlap."""
    wide = rng.choice((8, 12, 16))
    found = {}
    for number in range(rng.randint(2, 8)):
        width, depth = rng.randint(2, 5), rng.randint(2, 5)
        jacks = [on_side(rng, width, depth) for _ in range(2)]
        given = [(x / 100, y / 100) for x, y in jacks]
        found[f"b{number}"] = at(
            f"b{number}", rng.randint(0, wide), rng.randint(0, wide), width, depth,
            input_at=given[0], output_at=given[1],
        )  # fmt: skip
    return found


def turns(points: tuple[Point, ...]) -> int:
    """Return how many quarter turns a line takes."""
    headings = [
        (round((c - a) / max(abs(c - a), abs(d - b))), round((d - b) / max(abs(c - a), abs(d - b))))
        for (a, b), (c, d) in pairwise(points)
    ]
    return sum(
        0 if one == two else 2 if one == (-two[0], -two[1]) else 1
        for one, two in pairwise(headings)
    )


def cm(length: float) -> int:
    return round(length * 100)


@pytest.mark.parametrize("seed", range(tries(30, 4000)))
def test_as_short_as_a_walk_on_the_lattice(seed: int) -> None:
    rng = random.Random(seed)
    boxes = random_boxes(rng)
    plug = rng.choice((0, 1, 2, 2, 3))
    floor = laid(*boxes.values(), plug=plug / 100)
    edges = [
        (cm(o.x), cm(o.y), cm(o.x + o.width), cm(o.y + o.depth)) for o in floor.outlines.values()
    ]
    lattice = Lattice(edges, plug)
    names = list(boxes)
    for begin, end in [(names[0], names[1]), (names[1], names[0]), (names[-1], names[-1])]:
        ends = [floor.jack(Socket(begin, "out")), floor.jack(Socket(end, "in"))]
        (one, first), (two, last) = (
            lattice.plug((cm(jack.x), cm(jack.y)), (jack.dx, jack.dy), plug)
            for jack in ends
            if jack
        )
        assert ends[0] is not None
        assert ends[1] is not None
        out = (ends[0].dx, ends[0].dy) if first else None
        into = (-ends[1].dx, -ends[1].dy) if last else None
        walked = lattice.shortest(one, out, two, into)
        way = joined(floor, begin, end)
        assert (way is None) == (walked is None)
        if way is not None and walked is not None:
            assert way.length == pytest.approx((first + walked[0] + last) / 100, abs=NM)
            assert turns(way.points) == walked[1]
            assert (begin in way.tight, end in way.tight) == (
                first < plug or (begin == end and last < plug),
                last < plug or (begin == end and first < plug),
            )
            holds(floor, way, begin, end)


def holds(floor: Floor, way: Way, begin: str, end: str) -> None:
    """A way goes from jack to jack along x or y through no box, and is as long as it says."""
    first, last = floor.jack(Socket(begin, "out")), floor.jack(Socket(end, "in"))
    assert first is not None
    assert last is not None
    assert (way.points[0], way.points[-1]) == ((first.x, first.y), (last.x, last.y))
    for (x, y), (u, v) in pairwise(way.points):
        assert (x == u) != (y == v)
        for box in floor.outlines.values():
            apart = max(x, u) <= box.x + NM or min(x, u) >= box.x + box.width - NM
            assert apart or max(y, v) <= box.y + NM or min(y, v) >= box.y + box.depth - NM
    pieces = sum(abs(x - u) + abs(y - v) for (x, y), (u, v) in pairwise(way.points))
    assert way.length == pytest.approx(pieces, abs=NM)
