"""Where boxes and their jacks stand, by the rules of a board file and sums done by hand."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from helpers.thinned import tries

from sigsim.layout.checks import Overhang, overhangs, overlaps
from sigsim.layout.floor import Floor
from sigsim.layout.model import Box, Layout, Point, Socket
from sigsim.layout.sold import taken

# A nanometre.
NM = 1e-9


def board(*rows: list[Box], gap: float = 0.01, plug: float = 0.02, **kwargs: object) -> Floor:
    boxes = {box.name: box for row in rows for box in row}
    names = tuple(tuple(box.name for box in row) for row in rows)
    told = Layout("f", (0.6, 0.32), names, boxes, gap=gap, plug_length=plug)
    return Floor(replace(told, **kwargs))  # type: ignore[arg-type]


def cm(*lengths: float) -> tuple[float, ...]:
    return tuple(pytest.approx(length / 100, abs=NM) for length in lengths)


def corner(floor: Floor, name: str) -> Point:
    outline = floor.outlines[name]
    return outline.x, outline.y


def test_rows_begin_at_the_left_and_stand_behind_the_deepest_box_in_front() -> None:
    floor = board(
        [Box("c", 0.1, 0.05), Box("d", 0.1, 0.05)],
        [Box("a", 0.07, 0.11), Box("far", 0.07, 0.3, place=(0.5, 0.01)), Box("b", 0.05, 0.13)],
    )
    assert corner(floor, "a") == cm(0, 0)
    # A box with a place takes no room in its row: neither across nor behind.
    assert corner(floor, "b") == cm(8, 0)
    assert corner(floor, "far") == cm(50, 1)
    assert corner(floor, "c") == cm(0, 14)
    assert corner(floor, "d") == cm(11, 14)


def test_a_box_in_no_row_and_without_a_place_stands_nowhere() -> None:
    floor = board([Box("a", 0.1, 0.1)])
    more = {
        **floor.layout.boxes,
        "b": Box("b", 0.1, 0.1),
        "own": Box("own", 0.1, 0.1, loops=("x",)),
    }
    floor = Floor(replace(floor.layout, boxes=more))
    assert set(floor.outlines) == {"a"}
    for nowhere in ("b", "x", "own", "unheard of"):
        assert floor.box_of(nowhere) is None
        assert floor.jack(Socket(nowhere, "in")) is None
        assert floor.way(Socket("a", "out"), Socket(nowhere, "in")) is None
    assert floor.jack(Socket("a", "send")) is None


@pytest.mark.parametrize(
    ("box", "into", "out"),
    [
        (Box("a", 0.08, 0.12), (8, 6, 1, 0), (0, 6, -1, 0)),
        (Box("a", 0.08, 0.12, "left to right"), (0, 6, -1, 0), (8, 6, 1, 0)),
        (Box("a", 0.08, 0.12, "back"), (6, 12, 0, 1), (2, 12, 0, 1)),
        (Box("a", 0.08, 0.12, output_at=(0.03, 0.0)), (8, 6, 1, 0), (3, 0, 0, -1)),
        (Box("a", 0.08, 0.12, input_at=(0.08, 0.01)), (8, 1, 1, 0), (0, 6, -1, 0)),
        # One and two are not three in binary fractions, but a jack is on the side all the same.
        (Box("a", 0.1 + 0.2, 0.12, input_at=(0.3, 0.01)), (30, 1, 1, 0), (0, 6, -1, 0)),
        (Box("a", 0.08, 0.12, input_at=(0.01, 0.12)), (1, 12, 0, 1), (0, 6, -1, 0)),
        (Box("a", 0.08, 0.12, input_at=(0.0, 0.02)), (0, 2, -1, 0), (0, 6, -1, 0)),
    ],
)
def test_jacks(box: Box, into: tuple[int, ...], out: tuple[int, ...]) -> None:
    floor = board([box])
    for side, (x, y, *heading) in (("in", into), ("out", out)):
        jack = floor.jack(Socket("a", side))  # type: ignore[arg-type]
        assert jack is not None
        assert (jack.x, jack.y) == cm(x, y)
        assert [jack.dx, jack.dy] == heading


@pytest.mark.parametrize("count", [1, 2, 3, 5])
def test_sends_and_returns_stand_on_the_back_edge_from_right_to_left(count: int) -> None:
    loops = tuple(f"loop {n}" for n in range(count))
    floor = board([Box("first", 0.04, 0.05), Box("switcher", 0.3, 0.06, loops=loops)])
    found = [
        floor.jack(Socket(loop, side))
        for loop in loops
        for side in ("send", "return")  # type: ignore[arg-type]
    ]
    for number, jack in enumerate(found, start=1):
        assert jack is not None
        # The k-th of 2n at (2n - k + 1/2) / 2n of the width.
        share = (2 * count - number + 0.5) / (2 * count)
        assert (jack.x, jack.y) == cm(5 + 30 * share, 6)
        assert (jack.dx, jack.dy) == (0, 1)
    for loop in loops:
        assert floor.box_of(loop) == "switcher"
        assert floor.jack(Socket(loop, "in")) == floor.jack(Socket("switcher", "in"))
        assert floor.jack(Socket(loop, "out")) == floor.jack(Socket("switcher", "out"))


def test_what_a_box_joins_itself() -> None:
    floor = board(
        [Box("s", 0.3, 0.06, loops=("one", "two")), Box("t", 0.1, 0.06, loops=("three",))]
    )
    assert floor.joined(Socket("one", "out"), Socket("two", "in"))
    assert floor.joined(Socket("two", "out"), Socket("one", "in"))
    assert not floor.joined(Socket("one", "out"), Socket("three", "in"))
    assert not floor.joined(Socket("one", "out"), Socket("one", "in"))
    assert not floor.joined(Socket("one", "send"), Socket("one", "return"))
    assert not floor.joined(Socket("s", "out"), Socket("t", "in"))
    assert not floor.joined(None, Socket("two", "in"))
    assert not floor.joined(Socket("one", "out"), None)


@pytest.mark.parametrize(
    ("where", "there"),
    [("right", (60, 16)), ("left", (0, 16)), ("back", (30, 32)), ((0.5, 0.0), (50, 0))],
)
def test_where_the_leads_come_in(where: str | Point, there: tuple[float, float]) -> None:
    floor = board([Box("a", 0.1, 0.1)], entry=where, exit=where)
    assert floor.entry == cm(*there)
    assert floor.exit == cm(*there)


def test_the_part_of_a_lead_on_the_board() -> None:
    floor = board([Box("a", 0.1, 0.1)], entry="right", exit="left")
    way = floor.lead_way(floor.entry, Socket("a", "in"))
    assert way is not None
    # From (60, 16) to the end of the plug at (12, 5), and the plug.
    assert way.length == pytest.approx(0.48 + 0.11 + 0.02, abs=NM)
    assert (way.points[0], way.points[-1]) == (floor.entry, cm(10, 5))
    # The plug reaches over the edge, round which the way comes back.
    way = floor.lead_way(floor.exit, Socket("a", "out"))
    assert way is not None
    assert way.length == pytest.approx(0.02 + 0.11 + 0.02, abs=NM)
    assert floor.lead_way(None, Socket("a", "in")) is None
    assert board([Box("a", 0.1, 0.1)]).entry is None
    assert floor.lead_way((0.05, 0.05), Socket("a", "in")) is None
    assert floor.lead_way(floor.entry, Socket("b", "in")) is None


def test_neighbours() -> None:
    # Signals go from right to left: out of b at the left, into a at the right.
    def of(gap: float) -> tuple[float, tuple[str, ...]] | None:
        floor = board([Box("a", 0.1, 0.1), Box("b", 0.1, 0.1)], gap=gap)
        way = floor.way(Socket("b", "out"), Socket("a", "in"))
        return None if way is None else (way.length, way.tight)

    assert of(0.04) == (pytest.approx(0.04, abs=NM), ())
    assert of(0.05) == (pytest.approx(0.05, abs=NM), ())
    # Plugs of 2 cm reach past each other: out, back, and in.
    assert of(0.03) == (pytest.approx(0.02 + 0.01 + 0.02, abs=NM), ())
    assert of(0.02) == (pytest.approx(0.06, abs=NM), ())
    assert of(0.01) == (pytest.approx(0.03, abs=NM), ("b", "a"))
    # Boxes that touch leave no way between, and their jacks are shut in.
    assert of(0.0) is None


def test_no_plug_at_all() -> None:
    floor = board([Box("a", 0.1, 0.1), Box("b", 0.1, 0.1)], plug=0.0)
    way = floor.way(Socket("b", "out"), Socket("a", "in"))
    assert way is not None
    assert way.length == pytest.approx(0.01, abs=NM)
    assert (len(way.points), way.tight) == (2, ())


def test_a_box_to_itself() -> None:
    way = board([Box("a", 0.1, 0.1)]).way(Socket("a", "out"), Socket("a", "in"))
    assert way is not None
    # Two plugs, twice half the depth, and the width with a plug at each end.
    assert way.length == pytest.approx(0.02 + 0.05 + 0.14 + 0.05 + 0.02, abs=NM)


@pytest.mark.parametrize("touch", [True, False])
def test_boxes_that_touch_at_a_corner_leave_no_way_between(touch: bool) -> None:
    gap = 0.0 if touch else 0.001
    boxes = [
        Box("a", 0.1, 0.1, place=(0.0, 0.0), output_at=(0.05, 0.1)),
        Box("b", 0.1, 0.1, place=(0.1 + gap, 0.1 + gap), input_at=(0.05, 0.0)),
    ]
    way = board(boxes, plug=0.0).way(Socket("a", "out"), Socket("b", "in"))
    assert way is not None
    # From (5, 10) to (15, 10): straight through between the corners, or round the upper box, along
    # half its near side at each end and the three others.
    assert way.length == pytest.approx(0.4 if touch else 0.1 + 2 * gap, abs=NM)


def test_rounding_opens_no_way() -> None:
    # In doubles ten times 0.1 is a little less than 1, and 0.1 and 0.2 a little more than 0.3:
    # there were a slit before the first wall, and the second stood in the box before it.
    tenths = [Box(f"b{n}", 0.1, 0.1) for n in range(10)]
    for row, left in ((tenths, 1.0), ([Box("b0", 0.1, 0.1), Box("b9", 0.2, 0.1)], 0.3)):
        floor = board([*row, Box("wall", 0.2, 0.1, place=(left, 0.0))], gap=0.0)
        assert overlaps(floor) == ()
        assert floor.way(Socket("wall", "out"), Socket("b9", "in")) is None


def test_what_overlaps_and_what_hangs_over() -> None:
    floor = board(
        [
            Box("a", 0.1, 0.1, place=(0.0, 0.0)),
            Box("b", 0.1, 0.1, place=(0.1, 0.0)),
            Box("c", 0.1, 0.1, place=(0.15, 0.09)),
            Box("d", 0.1, 0.1, place=(0.55, 0.24)),
            Box("e", 0.1, 0.1, place=(-0.01, -0.02)),
        ]
    )
    assert overlaps(floor) == (("a", "e"), ("b", "c"))
    found = {(hang.name, hang.edge): hang.by for hang in overhangs(floor)}
    assert found == {
        ("d", "right"): pytest.approx(0.05, abs=NM),
        ("d", "back"): pytest.approx(0.02, abs=NM),
        ("e", "left"): pytest.approx(0.01, abs=NM),
        ("e", "near"): pytest.approx(0.02, abs=NM),
    }
    assert all(isinstance(hang, Overhang) for hang in overhangs(floor))
    # A figure in inches, 2.7559 for 7 cm, is 0.14 µm off.
    inches = [Box("a", 0.07, 0.1, place=(0.0, 0.0)), Box("b", 0.1, 0.1, place=(0.06999986, 0.0))]
    assert overlaps(board(inches)) == ()
    assert overhangs(board([Box("a", 0.60000014, 0.1)])) == ()
    # To the edge is not over it.
    assert overhangs(board([Box("a", 0.1 + 0.2, 0.32), Box("b", 0.3, 0.32)], gap=0.0)) == ()


@pytest.mark.parametrize("seed", range(tries(50, 2000)))
def test_the_length_to_take_against_trying_all(seed: int) -> None:
    rng = random.Random(seed)
    sold = rng.sample([n / 20 for n in range(1, 41)], rng.randint(1, 6))
    run = rng.choice([rng.uniform(0.01, 2.2), rng.choice(sold), sum([0.05] * rng.randint(1, 40))])
    found = taken(run, sold)
    enough = [length for length in sold if length - run > -NM / 2]
    if found is None:
        assert not enough
    else:
        assert found in enough
        assert all(found <= length for length in enough)


def test_a_cable_that_is_cut_is_as_long_as_its_run() -> None:
    assert taken(0.123, ()) == 0.123
    assert taken(0.1 + 0.2, (0.3, 0.6)) == 0.3
    assert taken(0.6001, (0.3, 0.6)) is None
