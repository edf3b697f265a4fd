"""The reasons that are given for an order are facts, found again here by hand or by trying all."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations, permutations

import pytest

from sigsim.board.reader import parse_board
from sigsim.board.reorder import reordered
from sigsim.decide.buffer.views import ALL_STATES
from sigsim.decide.order.question import Box, Order, Ordered, Question
from sigsim.decide.order.reasons import Moved, Reason, Shield, Stretch, box_names, reason
from sigsim.items.cable import Cable

HEAD = """
[instrument]
part = "bass-split-coil"
[destination]
part = "solid-state-amplifier-input"
[cables.a]
capacitance = "100 pF/m"
[wiring]
cable = "a"
length = "50 cm"
"""
CABLE = '[[chain]]\ncable = "a"\nlength = "{}"\n'
# What each is, from the instrument on.
PARTS = {
    "fuzz": 'part = "fuzz-low-impedance"\n',
    "drive": 'part = "pedal-true-bypass"\n',
    "old": 'part = "vintage-hardwire"\n',
    "echo": 'part = "pedal-buffered"\n',
    "booster": 'part = "pedal-true-bypass"\nalways_on = true\n',
}


def asked(*names: str) -> Question:
    """Return the question of the best order of some boxes, between two cables."""
    stages = (f'[[chain]]\nstage = "{name}"\n{PARTS[name]}' for name in names)
    board = parse_board(HEAD + CABLE.format("4 m") + "".join(stages) + CABLE.format("6 m"))
    items = [item for item in board.listed if not isinstance(item, Cable)]
    boxes = tuple(Box(number, item, (), ()) for number, item in enumerate(items))
    return Question(board, (), boxes, (), (ALL_STATES,))


def why(question: Question, order: Order, on: tuple[str, ...] = ()) -> Reason:
    """Return the reason for an order, all off the worst of both unless it is said."""
    own = tuple(number for number in order if number < len(question.boxes))
    board = reordered(question.board, (), own)
    now = Ordered(tuple(range(len(question.boxes))), 3.0, (), 0, 0)
    return reason(question, now, Ordered(order, 1.0, on, 0, 0), board)


def test_what_moved_is_the_fewest_boxes_that_turn_one_order_into_the_other() -> None:
    question = asked(*PARTS)
    for order in permutations(range(5)):
        found = why(question, order).moved
        names = box_names(question, order)
        # The fewest that may be taken out so that the rest stands as in the file.
        fewest = next(
            count
            for count in range(5)
            for out in combinations(order, count)
            if (rest := [n for n in order if n not in out]) == sorted(rest)
        )
        assert len(found) == fewest
        for moved in found:
            at = names.index(moved.box)
            assert moved.behind == (names[at - 1] if at else "")


@pytest.mark.parametrize(
    ("order", "expected"),
    [
        ((2, 0, 1), Shield("echo", ("fuzz", "drive"), True)),
        ((0, 2, 1), Shield("echo", ("drive",), True)),
        ((1, 0, 2), None),
    ],
)
def test_what_now_shields_what(order: Order, expected: Shield | None) -> None:
    assert why(asked("fuzz", "drive", "echo"), order).shield == expected


def test_what_was_shielded_before_is_not_told_again() -> None:
    question = asked("drive", "booster", "fuzz", "echo", "old")
    assert why(question, (0, 1, 3, 2, 4)).shield is None
    assert why(question, (1, 0, 2, 3, 4)).shield == Shield("booster", ("drive",), False)
    assert why(question, (3, 0, 1, 2, 4)).shield == Shield("echo", ("drive", "booster"), True)


def test_a_box_that_is_put_in_shields_what_is_behind_it() -> None:
    question = asked("fuzz", "drive")
    buffer = asked("booster").boxes[0].item
    found = why(replace(question, buffer=buffer), (0, 2, 1))  # type: ignore[arg-type]
    assert found.shield == Shield("booster", ("drive",), True)
    assert found.moved == ()


def test_the_longest_stretch_is_the_sum_of_its_pieces() -> None:
    # All off, 4 m + 1 m before the buffered bypass and 6 m behind it; then 4 m and 1 m + 6 m.
    assert why(asked("drive", "old", "echo"), (2, 0, 1)).stretch is None
    # All off, all of it; with the drive on, what is behind it.
    found = why(asked("drive", "old", "fuzz"), (0, 1, 2), ("drive",)).stretch
    assert found == Stretch((4, 0.5, 0.5, 6), (0.5, 0.5, 6))


def test_what_sees_the_pickup_is_said_if_it_wants_to() -> None:
    question = asked("echo", "fuzz", "drive")
    assert why(question, (1, 0, 2)).sees_now == ("fuzz",)
    assert why(question, (0, 2, 1)).sees_now == ()
    found = why(asked("fuzz", "drive", "echo"), (0, 2, 1))
    assert (found.sees_still, found.sees_now) == (("fuzz",), ())


def test_a_box_moved_says_behind_what() -> None:
    assert why(asked("fuzz", "drive", "old"), (2, 0, 1)).moved == (Moved("old", ""),)
    assert why(asked("fuzz", "drive", "old"), (1, 2, 0)).moved == (Moved("fuzz", "old"),)
