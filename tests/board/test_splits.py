"""What may be wrong with a split in a board file: one clear message for each."""

from __future__ import annotations

import pytest
from helpers.refusals import ENDS, LEAD, STAGE

from sigsim.board.reader import parse_board
from sigsim.errors import BoardError

SPLIT = '[[chain]]\nsplit = "dry"\n'
OPEN = "destination = {}\n"
TAP = '[[chain]]\ntap = "t"\ncable = "lead"\nlength = 1\nopen = true\n'

BAD: dict[str, tuple[str, list[str]]] = {
    "no destination": (SPLIT, ["this split has no destination", "destination = {}"]),
    "a slip in it": (SPLIT + "destinaton = {}\n", ['did you mean "destination"']),
    "a destination that is no table": (SPLIT + 'destination = "amp"\n', ["a table is wanted"]),
    "a key of a tap": (SPLIT + OPEN + "open = true\n", ["it belongs to a tap"]),
    "a slip in its destination": (
        SPLIT + 'destination = { input_resistence = "1M" }\n',
        ['split "dry", destination', 'did you mean "input_resistance"'],
    ),
    "a part of another kind": (
        SPLIT + 'destination = { part = "pedal-true-bypass" }\n',
        ["a part for stage tables"],
    ),
    "a negative input": (
        SPLIT + "destination = { input_resistance = -1 }\n",
        ["must not be negative"],
    ),
    "inside that is a number": (SPLIT + OPEN + "inside = 3\n", ["[[chain.inside]] tables"]),
    "a name of a stage": (
        STAGE + SPLIT.replace("dry", "fuzz") + OPEN,
        ['split "fuzz": this name is used twice'],
    ),
    "a name of another split": (SPLIT + OPEN + SPLIT + OPEN, ["used twice"]),
    "a name that is none": (SPLIT.replace('"dry"', "3") + OPEN, ["a name in quotes is wanted"]),
    "in a scene": (
        SPLIT + OPEN + '[scenes]\na = ["dry"]\n',
        ["a split cannot be switched: name what is on inside it"],
    ),
    "a destination in a stage": (STAGE + OPEN, ["it belongs to a split"]),
    "a destination in a tap": (TAP + OPEN, ["it belongs to a split"]),
    "two things at once": (SPLIT + 'loop = "l"\n' + OPEN, ["one thing only"]),
    "a slip in the word": (SPLIT.replace("split", "splt") + OPEN, ['did you mean "split"']),
    "a player's word": (SPLIT.replace("split", "splitter") + OPEN, ['did you mean "split"']),
}


@pytest.mark.parametrize("name", BAD)
def test_one_message(name: str) -> None:
    text, words = BAD[name]
    with pytest.raises(BoardError) as caught:
        parse_board(ENDS + LEAD + text)
    assert len(caught.value.problems) == 1, str(caught.value)
    for word in words:
        assert word in str(caught.value)


def test_a_destination_goes_by_the_name_of_its_split() -> None:
    board = parse_board(ENDS + LEAD + SPLIT + "destination = { input_resistance = 1e6 }\n")
    assert board.heard_at("dry").end.name == "dry"
    named = parse_board(ENDS + LEAD + SPLIT + 'destination = { name = "desk" }\n')
    assert named.heard_at("dry").end.name == "desk"
