"""What an order obeys and breaks, in words."""

from __future__ import annotations

import pytest

from sigsim.board.reader import parse_board
from sigsim.decide.buffer.views import ALL_STATES
from sigsim.decide.order.question import Box, Constraint, Question
from sigsim.decide.order.reasons import Moved, Reason, Shield, Stretch
from sigsim.show.order_words import (
    arrows,
    broken_words,
    contradiction_words,
    kinds_words,
    reason_words,
)

BOARD = parse_board(
    "[instrument]\n[destination]\n"
    '[[chain]]\nstage = "fuzz"\npart = "pedal-true-bypass"\n'
    '[[chain]]\nstage = "preamp"\npart = "pedal-true-bypass"\n'
    '[[chain]]\nloop = "send"\ninside = [{stage = "echo", part = "pedal-buffered"}]\n'
)
QUESTION = Question(
    BOARD,
    (),
    tuple(Box(number, item, (), ()) for number, item in enumerate(BOARD.listed)),
    (),
    (ALL_STATES,),
)
PICKUP = Constraint("needs_pickup", "fuzz", "preamp", 0, 1)
BEFORE = Constraint("before", "preamp", "fuzz", 1, 0)
AFTER = Constraint("after", "echo", "fuzz", 0, 2)
FIXED = Constraint("fixed", "send", "", 2, 0)


def test_a_contradiction_is_told_demand_by_demand() -> None:
    assert contradiction_words(QUESTION, (PICKUP, BEFORE)) == (
        "'fuzz' wants to see the pickup, so 'preamp' must stand behind it; but 'preamp' says "
        'before = ["fuzz"]'
    )
    assert contradiction_words(QUESTION, (AFTER, FIXED)) == (
        "'echo' in 'send' says after = [\"fuzz\"]; but 'send' says fixed = true, so it stays "
        "number 1"
    )


@pytest.mark.parametrize(
    ("broken", "words"),
    [
        (PICKUP, "'fuzz' wants to see the pickup, but 'preamp' stands before it"),
        (BEFORE, "'preamp' says before = [\"fuzz\"], but stands behind it"),
        (AFTER, "'echo' in 'send' says after = [\"fuzz\"], but stands before it"),
    ],
)
def test_what_the_order_of_the_file_breaks(broken: Constraint, words: str) -> None:
    assert broken_words(QUESTION, broken) == words


def test_reasons_are_one_sentence() -> None:
    shield = Shield("echo", ("fuzz", "preamp"), True)
    moved = (Moved("echo", ""),)
    assert reason_words(Reason(moved, shield, None, ("fuzz",), ())) == (
        "'echo' moves to the front and now shields everything behind it; 'fuzz' still sees the "
        "pickup"
    )
    some = Shield("echo", ("fuzz",), False)
    assert reason_words(Reason((), some, Stretch((9.0,), (3.0, 0.5)), (), ("fuzz",))) == (
        "'fuzz' now sees the pickup; 'echo' now shields 'fuzz' too; the longest stretch of cable "
        "that nothing shields is 3.5 m in its worst combination, 9 m now"
    )
    both = (Moved("a", "b"), Moved("c", "d"))
    assert reason_words(Reason(both, None, None, (), ())) == (
        "'a' moves behind 'b' and 'c' moves behind 'd'"
    )
    assert reason_words(Reason((*both, *moved), None, None, (), ())) == (
        "'a', 'c', 'echo' have other places"
    )
    assert reason_words(Reason((), None, None, (), ())) == "no box has another place"


def test_equal_orders_are_one_row() -> None:
    assert kinds_words(("best", "custom", "one", "two")) == (
        "the best; keeps the custom and moves one box"
    )
    assert kinds_words(("one", "two")) == "the best that moves one box"
    assert kinds_words(("custom",)) == "the best that keeps the custom"


def test_names_are_shortened_and_never_control_anything() -> None:
    assert arrows(["a", "b" * 40, "\x1b"]) == f"a → {'b' * 29}… → \\u001b"
