"""Proposed rows against all arrangements there are."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations, pairwise, permutations

import pytest
from helpers.thinned import only_full, tries

from sigsim.layout import trying
from sigsim.layout.checks import overhangs, overlaps
from sigsim.layout.floor import Floor
from sigsim.layout.model import JACKS, Box, Layout, Point, Socket
from sigsim.layout.trying import Trial, tried

Rows = tuple[tuple[str, ...], ...]
Links = list[tuple[Socket, Socket]]
# Sums of whole nanometres.
NM = 1e-9


def random_layout(rng: random.Random, boxes: int, rows: int) -> tuple[Layout, Links]:
    """Return boxes in rows and perhaps at places, and links between most of them."""
    names = [f"b{number}" for number in range(boxes)]
    cm = rng.choice(([6, 7, 12], [7], [4, 5, 6, 7, 8, 9]))
    found = {name: _box(rng, name, cm) for name in names}
    gap = rng.choice((0, 0.005, 0.01, 0.03, 0.05))
    for name in [f"p{number}" for number in range(rng.choice((0, 0, 1, 3)))]:
        place = rng.randint(-5, 60) / 100, rng.choice((0, 15, 20, 25, 30)) / 100 + gap
        found[name] = replace(_box(rng, name, cm), place=place)
    if rng.random() < 0.4:
        found[names[0]] = replace(found[names[0]], width=0.2, loops=("one", "two"))
    chain = list(found)
    rng.shuffle(chain)
    links = [(Socket(a, "out"), Socket(b, "in")) for a, b in pairwise(chain)]
    if found[names[0]].loops:
        links += [(Socket("one", "send"), Socket(chain[0], "in"))]
        links += [(Socket(chain[-1], "out"), Socket("two", "return"))]
        links += [(Socket("one", "out"), Socket("two", "in"))]
    links += [(Socket(chain[0], "out"), Socket("nowhere", "in"))]
    cuts = sorted(rng.sample(range(1, boxes), rows - 1))
    rng.shuffle(names)
    told = tuple(tuple(names[a:b]) for a, b in zip([0, *cuts], [*cuts, boxes], strict=True))
    size = (rng.choice((0.3, 0.6, 1.0)), rng.choice((0.15, 0.4)))
    plug = rng.choice((0, 0.02, 0.02, 0.04))
    return Layout("f", size, told, found, gap=gap, slack=0.01, plug_length=plug), links


def _box(rng: random.Random, name: str, cm: list[int]) -> Box:
    width, depth = rng.choice(cm) / 100, rng.choice(cm) / 100
    given: list[Point | None] = [None, None]
    if rng.random() < 0.3:
        given = [(width / 3, rng.choice((0.0, depth))), (rng.choice((0.0, width)), depth / 4)]
    jacks = rng.choice(JACKS)
    return Box(name, width, depth, jacks, input_at=given[0], output_at=given[1])


def everything(layout: Layout) -> Iterator[Rows]:
    """Yield all rows that can be made, in order: none is empty."""
    names = [name for row in layout.rows for name in row]
    for order in permutations(names):
        for cuts in combinations(range(1, len(names)), len(layout.rows) - 1):
            ends = zip((0, *cuts), (*cuts, len(names)), strict=True)
            yield tuple(order[a:b] for a, b in ends)


def sum_of(layout: Layout, links: Links) -> tuple[int, float]:
    """Return how many runs have no way, and the sum of the others [m]."""
    floor = Floor(layout)
    ways = [
        floor.way(*link) for link in links if all(map(floor.jack, link)) and not floor.joined(*link)
    ]
    runs = [way.length + layout.slack for way in ways if way is not None]
    return len(ways) - len(runs), sum(runs)


def key_of(layout: Layout, links: Links, rows: Rows) -> tuple[object, ...]:
    """Return what is to be least."""
    no_way, total = sum_of(replace(layout, rows=rows), links)
    before = {name: n for n, name in enumerate(name for row in layout.rows for name in row)}
    order = [before[name] for row in rows for name in row]
    turned = sum(a > b for a, b in combinations(order, 2))
    moved = sum(len(set(new) - set(old)) for new, old in zip(rows, layout.rows, strict=True))
    lengths = tuple(map(len, rows))
    return no_way, round(total / NM), turned, moved, order, lengths


def hanging(layout: Layout) -> dict[object, float]:
    """Return all that hangs over, and 1 for all that overlaps."""
    floor = Floor(layout)
    return {(h.name, h.edge): h.by for h in overhangs(floor)} | {
        frozenset(pair): 1 for pair in overlaps(floor)
    }


def no_worse(layout: Layout, rows: Rows) -> bool:
    """Nothing overlaps that does not now, and nothing that moves hangs over farther than now."""
    now, then = hanging(layout), hanging(replace(layout, rows=rows))
    farthest = {
        edge: max((by for w, by in now.items() if is_over(w, edge, layout)), default=0.0)
        for edge in ("right", "back")
    }
    return all(
        by <= now.get(where, 0) + NM
        or any(is_over(where, edge, layout) and by <= far + NM for edge, far in farthest.items())
        for where, by in then.items()
    )


def is_over(where: object, edge: str, layout: Layout) -> bool:
    if not isinstance(where, tuple):
        return False
    name, at = where
    return at == edge and layout.boxes[name].place is None


def compare(trial: Trial, layout: Layout, links: Links) -> None:
    possible = [rows for rows in everything(layout) if no_worse(layout, rows)]
    best = min(possible, key=lambda rows: key_of(layout, links, rows))
    assert trial.rows == best
    no_way, total = sum_of(replace(layout, rows=best), links)
    assert trial.total == (None if no_way else pytest.approx(total, abs=NM))
    no_way, total = sum_of(layout, links)
    assert trial.now == (None if no_way else pytest.approx(total, abs=NM))


@pytest.mark.parametrize("seed", range(tries(12, 200)))
def test_no_arrangement_that_fits_is_better(seed: int) -> None:
    """Where what moves hangs over or stands in another, against all rows in which none does."""
    layout, links = random_layout(random.Random(70_000 + seed), 4, 2)
    trial = tried(layout, links, fits=True)
    assert trial.exact
    moving = {name for row in layout.rows for name in row}

    def fits(rows: Rows) -> bool:
        wrong = hanging(replace(layout, rows=rows))
        names = (set(w) if isinstance(w, frozenset) else {w[0]} for w in wrong)  # type: ignore[index]
        return all(moving.isdisjoint(some) for some in names)

    possible = [rows for rows in everything(layout) if fits(rows)]
    assert trial.fits == bool(possible)
    best = min(possible, key=lambda rows: key_of(layout, links, rows), default=layout.rows)
    assert trial.rows == best
    no_way, total = sum_of(replace(layout, rows=best), links)
    assert trial.total == (None if no_way else pytest.approx(total, abs=NM))


@pytest.mark.parametrize("seed", range(tries(3, 100)))
@pytest.mark.parametrize(("boxes", "rows"), [(2, 1), (4, 1), (3, 2), (4, 2), (4, 3)])
def test_no_arrangement_is_better(boxes: int, rows: int, seed: int) -> None:
    layout, links = random_layout(random.Random(100 * boxes + 10 * rows + 1000 * seed), boxes, rows)
    trial = tried(layout, links)
    assert trial.exact
    compare(trial, layout, links)


@pytest.mark.parametrize("seed", range(tries(1, 4)))
@pytest.mark.parametrize(("boxes", "rows"), [(5, 1), *only_full((5, 2), (6, 1), (6, 2), (7, 1))])
def test_no_arrangement_of_more_boxes_is_better(boxes: int, rows: int, seed: int) -> None:
    layout, links = random_layout(random.Random(seed + 7), boxes, rows)
    trial = tried(layout, links, seconds=60)
    assert trial.exact
    compare(trial, layout, links)


@pytest.mark.parametrize("seed", range(tries(1, 8)))
def test_a_search_finds_what_all_arrangements_give(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    layout, links = random_layout(random.Random(seed), 6, 2)
    layout = replace(layout, size=(1.0, 0.4), gap=0.01)
    best = tried(layout, links)
    monkeypatch.setattr(trying, "_ALL", 1)
    found = tried(layout, links)
    assert not found.exact
    assert (found.rows, found.total, found.now) == (best.rows, best.total, best.now)


def test_more_boxes_are_searched_alike_each_time(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(trying, "_IN_VAIN", 2)
    layout, links = random_layout(random.Random(3), 10, 1)
    layout = replace(layout, size=(1.0, 0.4), gap=0.01)
    found = tried(layout, links, seconds=60)
    assert found == tried(layout, links, seconds=60)
    assert not found.exact
    assert sorted(sum(found.rows, ())) == sorted(sum(layout.rows, ()))
    assert all(found.rows)
    assert no_worse(layout, found.rows)
    assert sum_of(replace(layout, rows=found.rows), links) < sum_of(layout, links)


def test_stopped_it_gives_what_there_is() -> None:
    layout, links = random_layout(random.Random(1), 9, 1)
    for trial in (tried(layout, links, stop=lambda: True), tried(layout, links, seconds=0)):
        assert (trial.rows, trial.exact) == (layout.rows, False)
        assert trial.total == trial.now


def test_a_board_on_which_nothing_moves() -> None:
    box = Box("a", 0.1, 0.1, place=(0.0, 0.0))
    links = [(Socket("a", "out"), Socket("a", "in"))]
    alone = Layout("f", (0.6, 0.3), (), {"a": box}, slack=0.03)
    assert tried(alone, links) == Trial((), pytest.approx(0.31), True, pytest.approx(0.31))
    row = replace(alone, rows=(("a",),))
    assert tried(row, links).rows == (("a",),)
    assert tried(row, []) == Trial((("a",),), 0.0, True, 0.0)


def test_who_has_a_place_stays_where_a_row_names_it() -> None:
    boxes = {name: Box(name, 0.1, 0.1) for name in ("a", "b", "c")}
    boxes["p"] = Box("p", 0.1, 0.1, place=(0.4, 0.15))
    layout = Layout("f", (0.6, 0.3), (("a", "p"), ("p",), ("b", "c")), boxes, gap=0.04)
    trial = tried(layout, [(Socket("b", "out"), Socket("c", "in"))])
    # Signals go from right to left: the plugs of neighbours meet in the gap.
    assert trial.rows == (("a", "p"), ("p",), ("c", "b"))
    assert trial.total == pytest.approx(0.04, abs=NM)
