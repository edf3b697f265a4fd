"""What an order has to obey, against trying every order and every set of constraints."""

from __future__ import annotations

import itertools
import json
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
import pytest
from helpers.boards import Table, boards, flat, to_toml
from helpers.program import sigsim
from helpers.refusals import assert_refused
from hypothesis import assume, given, seed, settings
from hypothesis import strategies as st

from sigsim.board import edit, edit_file
from sigsim.board.model import Board
from sigsim.board.reader import parse_board
from sigsim.decide.buffer.instead import instead_of_buffer
from sigsim.decide.buffer.views import ALL_STATES
from sigsim.decide.cures import remedies
from sigsim.decide.moves import elsewhere
from sigsim.decide.order.constraints import Level
from sigsim.decide.order.contradiction import smallest
from sigsim.decide.order.feasible import nearest_order, order_of
from sigsim.decide.order.obeyed import broken_by, unmet
from sigsim.decide.order.question import Constraint
from sigsim.decide.order.ranking import Pairs
from sigsim.decide.order.rules import broken, contradiction, level_of, question, stuck
from sigsim.decide.pickup import hidden_pickups, powered_places
from sigsim.errors import SigsimError
from sigsim.items.base import CUSTOM, ROLES, Placed
from sigsim.items.loop import Loop
from sigsim.items.stage import ActiveStage

HEAD = """
[instrument]
part = "{instrument}"
[destination]
part = "instrument-input"
[cables.lead]
part = "cable-standard"
[wiring]
cable = "lead"
length = "20 cm"
[[chain]]
cable = "lead"
length = "3 m"
"""
LAST = '[[chain]]\ncable = "lead"\nlength = "3 m"\n'
BUFFER = ActiveStage(
    stage="new", input_resistance=1e6, output_resistance=100.0, always_on=True
)  # fmt: skip


def stage(name: str, part: str, more: str = "", inside: str = "") -> str:
    return f'[[chain{inside}]]\nstage = "{name}"\npart = "{part}"\n{more}\n'


def board_text(*items: str, instrument: str = "bass-split-coil") -> str:
    return HEAD.format(instrument=instrument) + "".join(items) + LAST


FUZZ = stage("fuzz", "fuzz-low-impedance")
TUNER = stage("tuner", "tuner-true-bypass")
DESK = stage("desk", "preamp-always-on")
DRIVE = stage("drive", "drive-high-impedance")
ECHO = stage("echo", "echo-buffered")
VOLUME = stage("swell", "volume-pedal-passive")


def pairs(board: Board, level: tuple[int, ...] = ()) -> set[tuple[str, str, str]]:
    """Return the constraints of a level as rule and names of the boxes they bind."""
    asked = question(board, level)
    names = [box.name for box in asked.boxes]
    return {
        (c.rule, names[c.first], str(c.second) if c.rule == "fixed" else names[c.second])
        for c in asked.constraints
    }


# --- which orders there are, by trying all of them


def obeys(order: Sequence[int], one: Constraint) -> bool:
    if one.rule == "fixed":
        return order[one.second] == one.first
    return order.index(one.first) < order.index(one.second)


@st.composite
def asked(draw: st.DrawFn) -> tuple[int, list[Constraint]]:
    """Draw constraints on up to six boxes, often all but in a line, so that few contradict."""
    count = draw(st.integers(2, 6))
    line = draw(st.permutations(range(count)))
    places = st.sets(st.integers(0, count - 1), max_size=3)
    found = [Constraint("fixed", str(box), "", box, box) for box in sorted(draw(places))]
    for _ in range(draw(st.integers(0, 9))):
        first, second = draw(st.permutations(range(count)))[:2]
        if draw(st.integers(0, 9)):
            first, second = sorted((first, second), key=line.index)
        found.append(Constraint("before", str(first), str(second), first, second))
    return count, draw(st.permutations(found))


@settings(max_examples=120)
@seed(601)
@given(asked())
def test_the_contradiction_is_the_smallest_and_the_first_of_these(
    case: tuple[int, list[Constraint]],
) -> None:
    count, given_ = case
    orders = list(itertools.permutations(range(count)))
    obeyed = [{i for i, order in enumerate(orders) if obeys(order, one)} for one in given_]

    def possible(chosen: Sequence[int]) -> set[int]:
        return set(range(len(orders))).intersection(*(obeyed[i] for i in chosen))

    left = possible(range(len(given_)))
    found = smallest(count, given_)
    nearest, some = nearest_order(count, given_), order_of(count, given_)
    if left:
        assert found == ()
        assert nearest == orders[min(left)]
        assert some in {orders[i] for i in left}
        return
    assert nearest is None and some is None  # noqa: PT018
    for size in range(1, len(given_) + 1):
        sets = itertools.combinations(range(len(given_)), size)
        wrong = [chosen for chosen in sets if not possible(chosen)]
        if wrong:
            break
    numbers = [next(i for i, one in enumerate(given_) if one is other) for other in found]
    assert numbers == sorted(numbers)
    assert len(numbers) == size
    assert not possible(numbers)
    assert sum(numbers) == min(map(sum, wrong))


def fixed(box: int) -> Constraint:
    return Constraint("fixed", str(box), "", box, box)


def before(first: int, second: int) -> Constraint:
    return Constraint("before", str(first), str(second), first, second)


@pytest.mark.parametrize(
    ("given_", "size"),
    [
        # More than twenty are to stand before the twenty-first place.
        ([fixed(20), *(before(box, 20) for box in range(21, 62))], 22),
        ([before(box, (box + 1) % 64) for box in range(64)], 64),
        # Twenty-one in a fan between two boxes that leave nineteen places.
        (
            [fixed(10), fixed(30), *(before(10, box) for box in range(31, 60))]
            + [before(box, 30) for box in range(31, 60)],
            42,
        ),
        # Nothing stands before the first place.
        ([fixed(box) for box in range(63)] + [before(63, 0)], 2),
        ([before(first, second) for first in range(32) for second in range(32, 64)], 0),
    ],
    ids=["many before one", "circle", "between two", "all fixed", "none"],
)
def test_sixty_four_boxes(given_: list[Constraint], size: int) -> None:
    """The sizes are counted by hand, see each."""
    assert len(smallest(64, given_)) == size


# --- what becomes a constraint


@pytest.mark.parametrize(
    ("items", "expected"),
    [
        ((TUNER, FUZZ), set()),
        ((VOLUME, FUZZ), set()),
        ((stage("wah", "wah-hardwire", "needs_pickup = true"), FUZZ), set()),
        ((DRIVE, FUZZ), {"drive"}),
        ((FUZZ, DRIVE, ECHO), {"drive", "echo"}),
        ((DESK, FUZZ), {"desk"}),
        ((stage("tuner", "tuner-buffered"), FUZZ), {"tuner"}),
        ((stage("t", "pedal-true-bypass", 'role = "tuner"'), FUZZ), set()),
        ((stage("t", "tuner-true-bypass", 'role = "other"'), FUZZ), {"t"}),
        ((stage("t", "tuner-true-bypass", "always_on = true"), FUZZ), {"t"}),
        ((stage("wah", "preamp-always-on", "needs_pickup = true"), FUZZ), {"wah"}),
    ],
)
def test_before_what_wants_the_pickup(items: tuple[str, ...], expected: set[str]) -> None:
    """The contract says what may stand there; `hidden_pickups` says the same of the order."""
    board = parse_board(board_text(*items))
    found = pairs(board)
    assert {other for rule, first, other in found if first == "fuzz"} == expected
    seen = {h.stage: {*h.always, *h.sometimes} for h in hidden_pickups(board)}
    names = [box.name for box in question(board).boxes]
    ahead = expected & set(names[: names.index("fuzz")])
    assert seen.get("fuzz", set()) == ahead


def test_with_an_active_instrument_nothing_is_asked_for_the_pickup() -> None:
    board = parse_board(board_text(DESK, FUZZ, instrument="bass-active"))
    assert pairs(board) == set()
    assert stuck(question(board)) == ()


LOOP = '[[chain]]\nloop = "send"\n{more}\n'
IN = ".inside"


@pytest.mark.parametrize(
    ("inside", "expected"),
    [
        (stage("a", "pedal-true-bypass", inside=IN), {"send"}),
        (stage("a", "tuner-true-bypass", inside=IN), set()),
        (stage("a", "volume-pedal-passive", inside=IN), set()),
        (stage("a", "volume-pedal-passive", inside=IN) + stage("b", "pedal-buffered", inside=IN),
         {"send"}),
        ('[[chain.inside]]\nsplit = "y"\ndestination = {}\n'
         '[[chain.inside.inside]]\nstage = "b"\npart = "pedal-buffered"\n', set()),
    ],
    ids=["switched", "tuner", "passive", "buffered", "on another way"],
)  # fmt: skip
def test_a_loop_counts_as_what_is_in_it(inside: str, expected: set[str]) -> None:
    board = parse_board(board_text(LOOP.format(more=""), inside, FUZZ))
    assert {b for rule, a, b in pairs(board) if rule == "needs_pickup" and a == "fuzz"} == expected
    assert bool(hidden_pickups(board)) == bool(expected)


def test_a_loop_with_what_wants_the_pickup_goes_before_what_hides_it() -> None:
    inside = stage("fuzz", "fuzz-low-impedance", inside=IN) + stage(
        "b", "pedal-buffered", inside=IN
    )
    board = parse_board(board_text(DESK, LOOP.format(more=""), inside))
    assert pairs(board) == {("needs_pickup", "send", "desk")}
    assert pairs(board, level_of(board, "send")) == {("needs_pickup", "fuzz", "b")}


def test_names_bind_where_the_ways_part() -> None:
    inside = stage("a", "pedal-true-bypass", 'after = ["b"]', IN)
    inside += stage("b", "pedal-true-bypass", 'before = ["echo"]\nfixed = true', IN)
    loop = LOOP.format(more='after = ["drive"]')
    board = parse_board(board_text(DRIVE, loop, inside, ECHO.replace("\n\n", '\nafter = ["a"]\n')))
    assert pairs(board) == {
        ("before", "send", "echo"), ("after", "drive", "send"), ("after", "send", "echo"),
    }  # fmt: skip
    assert pairs(board, level_of(board, "send")) == {("after", "b", "a"), ("fixed", "b", "1")}


HANGING = '[[chain]]\nsplit = "y"\ndestination = {}\n' + stage("fuzz", "fuzz-low-impedance", "", IN)


def test_what_hangs_on_a_box_is_where_that_is() -> None:
    board = parse_board(board_text(TUNER, HANGING, ECHO, DESK))
    assert pairs(board) == {("needs_pickup", "tuner", "echo"), ("needs_pickup", "tuner", "desk")}
    (found,) = stuck(question(parse_board(board_text(DESK, HANGING, ECHO))))
    assert (found.stage, found.between, found.because) == ("fuzz", ("desk",), ())


def test_what_hides_the_pickup_stays_behind_a_split_that_stays() -> None:
    cable = '[[chain]]\ncable = "lead"\nlength = "1 m"\n'
    board = parse_board(board_text(TUNER, VOLUME, cable, HANGING, ECHO))
    assert pairs(board) == {("needs_pickup", "tuner", "echo"), ("needs_pickup", "swell", "echo")}


def test_a_buffer_is_one_more_box_behind_what_wants_the_pickup() -> None:
    board = parse_board(board_text(VOLUME.replace("\n\n", "\nfixed = true\n"), FUZZ, ECHO))
    made = question(board, buffer=BUFFER)
    wanted = Constraint("needs_pickup", "fuzz", "new", 1, 3)
    assert wanted in made.constraints
    assert broken(made, (0, 3, 1, 2)) == (wanted,)
    # A fixed place counts the boxes of the file.
    assert broken(made, (0, 1, 3, 2)) == ()
    assert broken(made, (0, 1, 2)) == ()
    assert [c.rule for c in broken(made, (1, 0, 2))] == ["fixed"]
    assert contradiction(made) == ()


def test_roles_and_the_custom() -> None:
    assert set(ROLES) - set(CUSTOM) == {"buffer", "other"}
    loop = LOOP.format(more="") + stage("a", "echo-buffered", inside=IN)
    mixed = LOOP.format(more="").replace("send", "both") + stage("b", "echo-buffered", inside=IN)
    mixed += stage("c", "tuner-buffered", inside=IN)
    plain = stage("plain", "pedal-true-bypass", 'role = "reverb"')
    board = parse_board(board_text(TUNER, loop, mixed, plain, stage("z", "buffer-opamp")))
    ranks = [box.ranks for box in question(board).boxes]
    delay, reverb = CUSTOM.index("delay"), CUSTOM.index("reverb")
    assert ranks == [(0,), (delay,), (delay, 0), (reverb,), ()]
    # Each stage in a loop counts: the tuner in 'both' behind 'send', a tuner behind its delay.
    orders = np.array([[0, 1, 2, 3, 4], [2, 0, 1, 3, 4]])
    custom, turned = Pairs.of(question(board)).counted(orders)
    assert (custom.tolist(), turned.tolist()) == ([1, 1], [0, 2])


# --- random boards


def drawn(table: Table, draw: st.DataObject) -> Table:
    """Return a board with wishes about the order at some of its stages and loops."""
    boxes = [item for item in flat(table["chain"]) if "stage" in item or "loop" in item]
    names = [str(item.get("stage") or item.get("loop")) for item in boxes]
    for item in boxes:
        for key in ("before", "after"):
            if draw.draw(st.integers(0, 3)) == 0:
                item[key] = [draw.draw(st.sampled_from(names))]
        if draw.draw(st.integers(0, 4)) == 0:
            item["fixed"] = True
        if "stage" in item and draw.draw(st.integers(0, 3)) == 0:
            item["role"] = draw.draw(st.sampled_from(ROLES))
    return table


def ways(items: list[Table], above: tuple[int, ...] = ()) -> Iterator[tuple[str, tuple[int, ...]]]:
    """Yield the way to every stage and loop; into a split by a negative number."""
    for number, item in enumerate(items, 1):
        if "stage" in item or "loop" in item:
            yield str(item.get("stage") or item.get("loop")), (*above, number)
        yield from ways(item.get("inside", []), (*above, -number if "split" in item else number))


def unbound(table: Table) -> bool:
    """Return whether any wish is one that no order could grant or break."""
    place = dict(ways(table["chain"]))
    for item in flat(table["chain"]):
        own = place.get(str(item.get("stage") or item.get("loop")))
        for name in (*item.get("before", ()), *item.get("after", ())):
            one, other = own, place[name]
            assert one is not None
            while one and other and one[0] == other[0]:
                one, other = one[1:], other[1:]
            if not one or not other or min(*one, *other) < 0:
                return True
    return False


@settings(max_examples=60)
@seed(602)
@given(boards(), st.data())
def test_only_wishes_that_bind_nothing_are_errors(table: Table, data: st.DataObject) -> None:
    table = drawn(table, data)
    if unbound(table):
        with pytest.raises(SigsimError, match=r"itself|is inside|on another way"):
            parse_board(to_toml(table))
        return
    board = parse_board(to_toml(table))
    asked_ = question(board)
    order = tuple(range(len(asked_.boxes)))
    rules = {(c.stage, c.rule, c.other) for c in broken(asked_, order) if c.rule != "needs_pickup"}
    assert rules <= {tuple(one) for one in unmet(board)}
    assert not any(c.rule == "fixed" for c in broken(asked_, order))


@settings(max_examples=80)
@seed(604)
@given(boards(), st.data())
def test_an_order_and_the_board_in_that_order_hide_the_pickup_from_the_same(
    table: Table, data: st.DataObject
) -> None:
    """The pairs say before what `hidden_pickups` finds when the boxes have changed places."""
    for item in flat(table["chain"]):
        if item.get("kind", "active") == "active" and "stage" in item:
            item["needs_pickup"] = data.draw(st.booleans())
    board = parse_board(to_toml(table))
    level = Level(board, data.draw(st.sampled_from(levels(board))))
    asked_ = question(board, level.place)
    order = tuple(data.draw(st.permutations(range(len(level.boxes)))))
    says = {(c.stage, c.other) for c in broken(asked_, order)}
    places = {s.stage: p for p, s in powered_places(board)}
    finds = {
        (hidden.stage, other)
        for hidden in hidden_pickups(level.ordered(order))
        for other in (*hidden.always, *hidden.sometimes)
        if all(level.holds(places[name]) for name in (hidden.stage, other))
        and level.owner(places[hidden.stage]) not in (None, level.owner(places[other]))
    }
    assert {pair for pair in says if level.owner(places[pair[0]]) is not None} == finds


def levels(board: Board) -> list[edit.Place]:
    return [(), *(place for place, item in edit.places(board) if isinstance(item, Loop))]


@settings(max_examples=25)
@seed(603)
@given(boards(), st.data())
def test_what_is_proposed_breaks_nothing_or_says_so(table: Table, data: st.DataObject) -> None:
    table = drawn(table, data)
    assume(not unbound(table))
    board = parse_board(to_toml(table))
    for remedy in remedies(board):
        breaking = [bool(cure.breaks) for cure in remedy.cures]
        assert len(set(breaking)) <= 1
        if remedy.loop is not None:
            assert all(breaking)


def test_what_would_do_instead_of_a_buffer_obeys_the_order() -> None:
    items = (stage("a", "pedal-true-bypass"), stage("b", "pedal-true-bypass"))
    free, bound = (
        parse_board(board_text(*items, stage("echo", "echo-buffered", more)).replace("3 m", "9 m"))
        for more in ("", 'after = ["b"]')
    )
    moved = [
        [c for c in instead_of_buffer(board, [ALL_STATES]) if c.change == "moved"]
        for board in (free, bound)
    ]
    assert moved[0]
    assert not moved[1]


# --- what names a box follows it


def test_who_names_a_box_follows_it_and_forgets_what_is_gone() -> None:
    drive = DRIVE.replace("\n\n", '\nbefore = ["a", "send"]\n')
    inside = stage("a", "pedal-true-bypass", 'after = ["drive"]', IN)
    inside += stage("b", "pedal-true-bypass", "", IN)
    text = board_text(drive, LOOP.format(more=""), inside)
    board = parse_board(text)
    places = {item.label: place for place, item in edit.places(board) if item.key != "cable"}
    for name in ("drive", "send", "a"):
        made = edit.with_values(board, places[name], {edit_key(board, places[name]): "new"}, {})
        keys = {edit_key(board, places[name]): "new"}
        assert made.listed == parse_board(edit_file.with_values(text, places[name], keys)).listed
        assert "new" in str([item.before + item.after for item in boxes_of(made)])
        gone = edit.taken_out(board, places[name])
        assert gone.listed == parse_board(edit_file.taken_out(text, places[name])).listed
        assert name not in str([item.before + item.after for item in boxes_of(gone)])
    # Put in elsewhere it is still named.
    moved = list(elsewhere(board, places["a"]))
    assert moved
    assert all(item.before == ("a", "send") for m in moved for item in boxes_of(m.board)[:1]
               if item.label == "drive")  # fmt: skip


def edit_key(board: Board, place: edit.Place) -> str:
    return edit.item_at(board, place).key


def boxes_of(board: Board) -> list[Placed]:
    return [item for _, item in edit.places(board) if isinstance(item, Placed)]


# --- what is stuck, and what cures it


def test_stuck_behind_what_is_fixed_before_it() -> None:
    board = parse_board(board_text(DESK.replace("\n\n", "\nfixed = true\n"), FUZZ, ECHO))
    (found,) = stuck(question(board))
    assert (found.stage, found.between) == ("fuzz", ("desk",))
    assert {(c.stage, c.rule) for c in found.because} == {
        ("desk", "fixed"),
        ("fuzz", "needs_pickup"),
    }
    assert [(c.stage, c.rule) for c in found.dropping] == [("desk", "fixed")]
    assert found.remedy is not None
    assert all(cure.breaks for cure in found.remedy.cures)
    assert found.remedy.loop is not None
    assert found.remedy.loop.hidden_while == ("desk",)


def test_stuck_although_the_file_breaks_the_other_wish() -> None:
    board = parse_board(board_text(FUZZ, DESK.replace("\n\n", '\nbefore = ["fuzz"]\n')))
    (found,) = stuck(question(board))
    assert found.remedy is None
    assert [(c.stage, c.rule, c.other) for c in found.dropping] == [("desk", "before", "fuzz")]


def test_another_order_cures_where_no_one_move_does() -> None:
    more = '\nafter = ["swell"]\n'
    text = board_text(DESK, VOLUME, FUZZ.replace("\n\n", more))
    (remedy,) = remedies(parse_board(text))
    assert [(cure.change, cure.boxes) for cure in remedy.cures] == [
        ("order", ("swell", "fuzz", "desk"))
    ]
    assert stuck(question(parse_board(text))) == ()


def test_what_hides_the_pickup_from_each_other_is_stuck_together() -> None:
    items = (stage(name, "preamp-always-on", "needs_pickup = true") for name in ("a", "b"))
    board = parse_board(board_text(*items))
    assert {one.stage for one in stuck(question(board))} == {"a", "b"}
    assert len(contradiction(question(board))) == 2


def test_a_board_that_can_see_it_is_not_stuck() -> None:
    assert stuck(question(parse_board(board_text(DESK, FUZZ)))) == ()
    inside = stage("b", "pedal-buffered", inside=IN) + stage("fuzz", "fuzz-low-impedance", "", IN)
    board = parse_board(board_text(LOOP.format(more=""), inside))
    assert stuck(question(board)) == ()
    (found,) = stuck(question(parse_board(board_text(DESK, LOOP.format(more=""), inside)), (2,)))
    assert found.between == ("desk",)


def test_check_says_what_the_order_of_the_file_breaks(tmp_path: Path) -> None:
    file = tmp_path / "b.toml"
    file.write_text(board_text(DRIVE, TUNER.replace("\n\n", '\nbefore = ["drive"]\n')))
    cautions = json.loads(sigsim("check", file, "--json").out)["cautions"]
    (found,) = [one for one in cautions if one["kind"] == "order-broken"]
    assert found["subject"] == "tuner"
    assert "'tuner' is to stand before 'drive'" in found["text"]


# --- bad input


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ('before = ["ecko"]', 'did you mean "echo"'),
        ('before = "echo"', '["echo"]'),
        ("before = [3]", "a name in quotes"),
        ('before = ["fuzz"]', "itself"),
        ('after = ["lead"]', "a cable stays at its place"),
        ('after = ["side"]', "a tap hangs on the line"),
        ('after = ["y"]', "a split is no box"),
        ('after = ["far"]', "on another way"),
        ('role = "drvie"', 'did you mean "drive"'),
        ("fixed = 1", "true or false"),
        ('fixd = true', 'did you mean "fixed"'),
    ],
)  # fmt: skip
def test_bad_wishes_are_refused_with_the_nearest_word(more: str, said: str, tmp_path: Path) -> None:
    side = '[[chain]]\ntap = "side"\ncable = "lead"\nlength = 1\nopen = true\n'
    split = '[[chain]]\nsplit = "y"\ndestination = {}\n' + stage("far", "pedal-true-bypass", "", IN)
    text = board_text(stage("fuzz", "fuzz-low-impedance", more), side, split, ECHO)
    file = tmp_path / "b.toml"
    file.write_text(text)
    assert_refused(sigsim("check", file), said, 'stage "fuzz"')


def test_a_level_is_a_loop() -> None:
    board = parse_board(
        board_text(FUZZ, LOOP.format(more=""), stage("a", "pedal-buffered", "", IN))
    )
    assert level_of(board, "send") == (2,)
    with pytest.raises(SigsimError, match="no loop, and only"):
        level_of(board, "fuzz")
    with pytest.raises(SigsimError, match=r"did you mean|send"):
        level_of(board, "sent")


def test_a_change_breaks_a_fixed_place_and_what_is_named() -> None:
    board = parse_board(board_text(DRIVE, TUNER.replace("\n\n", "\nfixed = true\n"), ECHO))
    assert all(isinstance(box.item, Placed) for box in question(board).boxes)
    other = parse_board(board_text(TUNER.replace("\n\n", "\nfixed = true\n"), DRIVE, ECHO))
    assert [tuple(one) for one in broken_by(other, board)] == [("tuner", "fixed", "")]
