"""Boxes in another order in the text of a file: what moves, what stays, and nothing else."""

from __future__ import annotations

from itertools import permutations

import pytest
from helpers.program import EXAMPLES

from sigsim.board import edit
from sigsim.board.reader import parse_board
from sigsim.board.reorder import permuted, reordered
from sigsim.board.reorder_file import reordered as reordered_text
from sigsim.errors import SigsimError
from sigsim.items.loop import Loop

ENDS = '[instrument]\n[destination]\n[cables.a]\ncapacitance = "100 pF/m"\n'

TABLES = f"""{ENDS}
# The chain begins here.

# The tuner comes first.
# It mutes.
[[chain]] # header of the tuner
stage = "tuner"
part = "tuner-true-bypass"
# wiring_capacitance = "60 pF"

[[chain]]
tap = "left plugged in"
cable = "a"
length = 2
open = true
# Between two rows.
[[chain]]
cable = "a"
length = 1


# Two at once.
[[chain]]
loop = "both"
[[chain.inside]]
stage = "echo"
part = "pedal-buffered"
# Never without the echo.
[[chain.inside]]
stage = "swell"
part = "pedal-true-bypass"

# ---- the last row ----

[[chain]]
stage = "drive" # loud
part = "pedal-true-bypass"

[scenes]
# A comment at the end of the chain is not the drive's.
s = ["drive"]
"""

MOVED = f"""{ENDS}
# The chain begins here.

[[chain]]
stage = "drive" # loud
part = "pedal-true-bypass"

# Between two rows.
[[chain]]
cable = "a"
length = 1
# The tuner comes first.
# It mutes.
[[chain]] # header of the tuner
stage = "tuner"
part = "tuner-true-bypass"
# wiring_capacitance = "60 pF"


[[chain]]
tap = "left plugged in"
cable = "a"
length = 2
open = true

# ---- the last row ----

# Two at once.
[[chain]]
loop = "both"
[[chain.inside]]
stage = "echo"
part = "pedal-buffered"
# Never without the echo.
[[chain.inside]]
stage = "swell"
part = "pedal-true-bypass"

[scenes]
# A comment at the end of the chain is not the drive's.
s = ["drive"]
"""

INLINE = f"""chain = [
    {{cable = "a", length = 1}}, # the lead
    # Wants to be first.
    {{stage = "x, [y]", part = "pedal-true-bypass"}}, # an x
    {{stage = "z # no", part = "pedal-true-bypass"}},
    # A loop.
    {{loop = "l", inside = [{{stage = "u", part = "pedal-buffered"}}, # a u
        {{stage = "v", part = "pedal-true-bypass"}}]}} # ends here
] # mine
{ENDS}"""

APART = f"""{ENDS}[scenes]
s = ["x"]
# The last box.
[[chain]]
stage = "x"
part = "pedal-true-bypass"
[[chain]]
split = "wet"
# Comes in the middle of the way to the other amp.
[wiring]
cable = "a"
length = 1
[chain.destination]
input_resistance = "1M"
[[chain]]
loop = "l"
inside = [
  {{stage = "u", part = "pedal-buffered"}},
  # about v
  {{stage = "v", part = "pedal-true-bypass"}},
]
[[chain]]
stage = "y"
part = "pedal-true-bypass\""""


@pytest.mark.parametrize("ends", ["\n", "\r\n"], ids=["lf", "crlf"])
def test_each_table_moves_with_its_comments_and_what_hangs_on_it(ends: str) -> None:
    text, moved = (t.replace("\n", ends) for t in (TABLES, MOVED))
    assert reordered_text(text, (), (2, 0, 1)) == moved
    assert reordered_text(moved, (), (1, 2, 0)) == text


@pytest.mark.parametrize(
    ("text", "level"),
    [(TABLES, ()), (TABLES, (3,)), (INLINE, ()), (INLINE, (3,)), (APART, ()), (APART, (2,)),
     ((EXAMPLES / "ferry-bass-two-amps.toml").read_text(encoding="utf-8"), ()),
     ((EXAMPLES / "ferry-guitar-two-boards.toml").read_text(encoding="utf-8"), ())],
    ids=["tables", "inside", "inline", "inline, inside", "apart", "inline in a table", "two amps",
         "two boards"],
)  # fmt: skip
def test_the_text_says_what_the_board_with_another_order_says(text: str, level: edit.Place) -> None:
    board = parse_board(text)
    around = edit.item_at(board, level) if level else None
    items = around.inside if isinstance(around, Loop) else board.listed
    boxes = sum(item.key in ("stage", "loop") for item in items)
    for order in list(permutations(range(boxes)))[:30]:
        moved = reordered_text(text, level, order)
        assert parse_board(moved) == reordered(board, level, order)
        assert sorted("".join(moved.split())) == sorted("".join(text.split()))


def test_comments_of_inline_tables_move_too() -> None:
    moved = reordered_text(INLINE, (), (2, 0, 1)).splitlines()
    assert moved[2] == "    # A loop."
    assert moved[4].endswith("}]}, # ends here")
    assert moved[5:] == [
        "    # Wants to be first.",
        '    {stage = "x, [y]", part = "pedal-true-bypass"}, # an x',
        '    {stage = "z # no", part = "pedal-true-bypass"}',
        "] # mine",
        *ENDS.splitlines(),
    ]


def test_the_order_of_the_file_is_the_file() -> None:
    for text in (TABLES, INLINE):
        assert reordered_text(text, (), (0, 1, 2)) == text


def test_a_comment_never_swallows_what_follows_it_on_a_line() -> None:
    text = (
        'chain = [{stage = "x", part = "pedal-true-bypass"}, {stage = "y",'
        f' part = "pedal-true-bypass"}} # here\n]\n{ENDS}'
    )
    moved = reordered_text(text, (), (1, 0))
    assert parse_board(moved) == reordered(parse_board(text), (), (1, 0))
    assert '"pedal-true-bypass"}, # here\n' in moved


@pytest.mark.parametrize("ends", ["\n", "\r\n"])
def test_a_comment_above_a_table_is_not_put_behind_another(ends: str) -> None:
    text = f"""chain = [{{cable = "a", length = 1}}, {{stage = "x", part = "pedal-true-bypass"}},
# About y.
{{stage = "y", part = "pedal-buffered"}}]
{ENDS}""".replace("\n", ends)
    moved = reordered_text(text, (), (1, 0)).split(ends)
    assert moved[1] == "# About y."
    assert moved[2].startswith('{stage = "y"')
    assert "\r" not in "".join(moved)
    assert "\n" not in "".join(moved)


def test_what_cannot_be_moved_alone_is_refused() -> None:
    text = 'chain = [{stage = "x"}, {loop = "l", "in\\u0073ide" = [{stage = "u"}, {stage = "v"}]}]'
    with pytest.raises(SigsimError, match="without changing something else"):
        reordered_text(text, (1,), (1, 0))
    assert reordered_text(text, (), (1, 0))


@pytest.mark.parametrize("order", [(0,), (0, 0), (0, 2), (0, 1, 2)])
def test_an_order_has_each_box_once(order: tuple[int, ...]) -> None:
    with pytest.raises(ValueError, match="no order of 2 boxes"):
        permuted(["box", "branch", "cable", "branch", "box"], order)


def test_what_hangs_on_a_box_travels_and_cables_stay() -> None:
    assert permuted(["cable", "box", "branch", "branch", "cable", "branch", "box"], (1, 0)) == [
        0, 6, 4, 5, 1, 2, 3,
    ]  # fmt: skip
