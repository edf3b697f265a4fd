"""Ways that run along one line are drawn beside each other, and stay where their jacks are."""

from __future__ import annotations

import random
from itertools import combinations, pairwise

import pytest
from helpers.laid_boards import laid_board
from helpers.thinned import tries
from helpers.variants import text

from sigsim.board.reader import parse_board
from sigsim.decide.layout.report import laid_out
from sigsim.layout.floor import Outline
from sigsim.layout.model import Point
from sigsim.show.lanes import apart
from sigsim.show.plan import plan

STEP = 0.004
# Lines as near as this are one line for the eye [m]: the least step is a quarter of what is wanted,
# of which another line may take 0.3.
NEAR = 0.7 * STEP / 4


def hidden(one: tuple[Point, Point], other: tuple[Point, Point]) -> float:
    """Return how long two pieces lie on each other [m]."""
    for along in (0, 1):
        across = 1 - along
        values = [point[across] for piece in (one, other) for point in piece]
        if max(values) - min(values) < NEAR:
            low = max(min(p[along] for p in piece) for piece in (one, other))
            return min(max(p[along] for p in piece) for piece in (one, other)) - low
    return 0.0


@pytest.mark.parametrize("seed", range(tries(8, 100)))
def test_no_cable_hides_another_one(seed: int) -> None:
    (own,) = laid_out(parse_board(text(laid_board(seed)), lacking=True)).standing
    ways = [run.way.points for run in own.runs if run.way is not None]
    drawn = apart(ways, own.floor.outlines.values(), STEP)
    for way, moved in zip(ways, drawn, strict=True):
        assert moved[0] == way[0]
        assert moved[-1] == way[-1]
        assert all(
            a[0] == pytest.approx(b[0]) or a[1] == pytest.approx(b[1]) for a, b in pairwise(moved)
        )
    for one, other in combinations(drawn, 2):
        covered = sum(hidden(a, b) for a in pairwise(one) for b in pairwise(other))
        # At a jack that two cables share, as at a split, their first bit is one.
        assert covered < 0.021


def test_many_cables_in_one_channel_stay_in_it() -> None:
    boxes = [Outline(0.0, 0.0, 1.0, 0.1), Outline(0.0, 0.12, 1.0, 0.1)]
    ways = [[(-0.1 - i / 100, 0.05), (-0.1 - i / 100, 0.1), (1.1, 0.1)] for i in range(9)]
    drawn = apart(ways, boxes, STEP)
    heights = sorted({round(y, 6) for way in drawn for x, y in way[1:-1]} - {0.05})
    assert all(0.1 <= y <= 0.12 for y in heights)
    inside = [y for y in heights if y > 0.1]
    assert len(inside) >= 8
    assert min(b - a for a, b in pairwise(inside)) > 0.0005


@pytest.mark.parametrize("seed", range(tries(4, 60)))
def test_numbers_stand_beside_their_cables_and_not_on_each_other(seed: int) -> None:
    (own,) = laid_out(parse_board(text(laid_board(seed)), lacking=True)).standing
    radius = 0.006
    lines = plan(own, radius).lines
    for line in lines:
        near = min(
            max(
                max(min(a[i], b[i]) - line.label[i], line.label[i] - max(a[i], b[i]), 0.0)
                for i in (0, 1)
            )
            for a, b in pairwise(line.points)
        )
        assert near <= 1.2 * radius
    crowded = [
        pair
        for pair in combinations(lines, 2)
        if abs(pair[0].label[0] - pair[1].label[0]) < radius
        and abs(pair[0].label[1] - pair[1].label[1]) < radius
    ]
    assert not crowded
    assert {line.number for line in lines} == {
        run.link.number for run in own.runs if run.way or run.lead_way
    }


def test_nothing_to_draw_is_drawn() -> None:
    assert apart([], [], STEP) == []
    assert apart([[(0.0, 0.0), (0.0, 0.0)]], [], STEP) == [[(0.0, 0.0)]]
    chance = random.Random(1)
    one = [(chance.random(), 0.0), (2.0, 0.0)]
    assert apart([one], [], STEP) == [one]
