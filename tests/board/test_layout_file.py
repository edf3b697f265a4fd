"""What a board file says of where its boxes stand: read, refused, changed, edited.

What is expected is written by hand from what the keys mean; no number here needs a source.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from helpers.laid_boards import laid_board
from helpers.thinned import tries
from helpers.variants import text

from sigsim.board import edit, edit_file
from sigsim.board.changes import Changes
from sigsim.board.model import Board
from sigsim.board.reader import parse_board, read_board
from sigsim.errors import BoardError, SigsimError
from sigsim.items.loop import Loop
from sigsim.items.stage import ActiveStage
from sigsim.layout.model import Box, Layout

ENDS = """
[instrument]
part = "bass-split-coil"
[destination]
part = "instrument-input"
"""
CABLES = """
[cables.lead]
part = "cable-standard"
[cables.patch]
part = "cable-standard"
sold = ["20 cm", "60 cm", "5 ft"]
[wiring]
cable = "patch"
"""
LAYOUT = """
[layout]
size = ["60 cm", "32 cm"]
rows = [["echo"], ["fuzz", "boost", "switcher"]]
gap = "2 cm"
slack = "3 cm"
entry = "right"
exit = ["0 cm", "300 mm"]
"""
BOXES = """
[boxes.switcher]
width = "30 cm"
depth = "6 cm"
loops = ["colour"]
"""
CHAIN = """
[[chain]]
cable = "lead"
length = "5 m"
[[chain]]
stage = "fuzz"
part = "fuzz-low-impedance"
[[chain]]
stage = "boost"
part = "pedal-true-bypass"
width = "80 mm"
input_at = ["8 cm", "1 cm"]
[[chain]]
tap = "tuner"
cable = "patch"
length = "1 m"
open = true
[[chain]]
loop = "colour"
[[chain.inside]]
stage = "echo"
part = "echo-buffered"
[[chain]]
cable = "lead"
length = "5 m"
"""
WHOLE = ENDS + CABLES + LAYOUT + BOXES + CHAIN
SECOND_LOOP = """
[[chain]]
loop = "space"
[[chain.inside]]
stage = "reverb"
part = "echo-buffered"
"""
STAGE = 'stage = "boost"'


def layout(board: Board) -> Layout:
    """Return where the boxes of a board stand."""
    assert board.laying is not None
    return board.laying.layout


def changed(*pairs: tuple[str, str]) -> str:
    """Return the board above with each first text replaced by the second."""
    made = WHOLE
    for before, after in pairs:
        assert before in made
        made = made.replace(before, after, 1)
    return made


def problems(text: str) -> list[str]:
    with pytest.raises(SigsimError) as caught:
        parse_board(text)
    error = caught.value
    return [str(p) for p in error.problems] if isinstance(error, BoardError) else [str(error)]


def test_all_of_it_is_read() -> None:
    """Sizes by the part, by the file, in millimetres; jacks on the very side that they are on."""
    board = parse_board(WHOLE)
    assert board.laying is not None
    # The sizes of parts are those that the library gives.
    assert layout(board) == Layout(
        file="board",
        size=(0.6, 0.32),
        rows=(("echo",), ("fuzz", "boost", "switcher")),
        boxes={
            "fuzz": Box("fuzz", 0.12, 0.095),
            "boost": Box("boost", 0.08, 0.12, input_at=(0.08, 0.01)),
            "echo": Box("echo", 0.07, 0.12),
            "switcher": Box("switcher", 0.3, 0.06, loops=("colour",)),
        },
        gap=0.02,
        slack=0.03,
        plug_length=0.02,
        entry="right",
        exit=(0.0, 0.3),
    )
    assert board.laying.sold == {"patch": (0.2, 0.6, pytest.approx(5 * 0.3048))}
    assert board.wiring is not None
    assert board.wiring.lays is board.laying
    assert not board.warnings


def test_what_is_not_said_is_nothing_or_usual() -> None:
    bare = changed(('gap = "2 cm"\nslack = "3 cm"\nentry = "right"\n', ""))
    made = layout(parse_board(bare, lacking=True))
    assert (made.gap, made.slack, made.plug_length, made.entry) == (0.0, 0.0, 0.02, None)


def test_a_box_without_loops_takes_room() -> None:
    """What stands on a board need not be in the signal's way: a supply."""
    brick = '[boxes.brick]\nwidth = "9 cm"\ndepth = "10 cm"\nplace = ["50 cm", "20 cm"]\n'
    made = layout(parse_board(WHOLE + brick))
    assert made.boxes["brick"] == Box("brick", 0.09, 0.1, place=(0.5, 0.2))


def test_sizes_of_parts_alone_are_no_matter() -> None:
    """A part that tells a size is silent in a file without a layout; a file that does is told."""
    plain = ENDS + CABLES + CHAIN
    plain = plain.replace('cable = "patch"\n\n', 'cable = "patch"\nlength = "1 m"\n', 1)
    assert parse_board(plain.replace('width = "80 mm"\ninput_at = ["8 cm", "1 cm"]\n', ""))
    (said,) = parse_board(plain).warnings
    assert said.startswith('width and input_at of "boost" have no effect')
    assert parse_board(plain).cables["patch"].sold[0] == 0.2


def at(point: str) -> tuple[str, str]:
    """Return the change that puts the output of a pedal of 8 x 12 cm somewhere."""
    return STAGE, f"{STAGE}\noutput_at = {point}"


ROWS = '[["echo"], ["fuzz", "boost", "switcher"]]'
# What is changed, where that is said to be wrong, and what of it.
WRONG: dict[str, tuple[list[tuple[str, str]], str, str]] = {
    "twice in a row": ([('["echo"]', '["echo", "echo"]')], "[layout], rows", "twice in row 1"),
    "in two rows": ([('["echo"]', '["echo", "fuzz"]')], "[layout], rows", "in rows 1 and 2"),
    "in a row and at a place": (
        [(STAGE, f'{STAGE}\nplace = ["1 cm", "2 cm"]')], "place", "stands in row 2 too",
    ),
    "two at one place": (
        [
            (STAGE, f'{STAGE}\nplace = ["10 cm", "2 cm"]'),
            ('stage = "fuzz"', 'stage = "fuzz"\nplace = ["100 mm", "2 cm"]'),
            ('"fuzz", "boost", ', ""),
        ],
        'stage "boost", place', 'this is the place of "fuzz"',
    ),
    "nothing of this name": (
        [('"boost", "switcher"', '"bost", "switcher"')], "[layout], rows", 'did you mean "boost"?',
    ),
    "a loop in a row": (
        [('["echo"]', '["echo", "colour"]')], "[layout], rows", 'the box that has it, "switcher"',
    ),
    "a loop in no box": (
        [('["echo"]', '["echo", "colour"]'), ('loops = ["colour"]', "")],
        "[layout], rows", '[boxes.NAME] with loops = ["colour"]',
    ),
    "a tap in a row": ([('["echo"]', '["echo", "tuner"]')], "[layout], rows", "a tap hangs on"),
    "a cable in a row": ([('["echo"]', '["echo", "lead"]')], "[layout], rows", "a cable lies"),
    "rows that are names": ([(ROWS, '["echo"]')], "[layout], rows", "each row is a list of names"),
    "rows that are no list": ([(ROWS, '"echo"')], "[layout], rows", "a list is wanted"),
    "no rows": ([(ROWS, "[]")], "[layout], rows", "there is no row"),
    "an empty row": ([('["echo"]', "[]")], "[layout], rows", "row 1 is empty"),
    "a number in a row": ([('["echo"]', '["echo", 3]')], "[layout], rows", "found 3"),
    "more boxes than there can be": (
        [('["echo"]', str([f"p{number}" for number in range(500)]))],
        "[layout], rows", "at most 500 boxes",
    ),
    "no size": ([('size = ["60 cm", "32 cm"]', "")], "[layout]", "size is missing"),
    "a size of 0": ([('"60 cm", "32 cm"', '"60 cm", 0')], "[layout], size", "more than 0"),
    "a negative gap": ([('"2 cm"', '"-2 cm"')], "[layout], gap", "negative"),
    "a negative slack": ([('"3 cm"', '"-3 cm"')], "[layout], slack", "negative"),
    "a tolerance": ([('"3 cm"', '"3 cm ± 5 %"')], "[layout], slack", "no tolerance"),
    "an entry beside the board": (
        [('"right"', '["61 cm", "1 cm"]')], "[layout], entry", "beside the board",
    ),
    "an exit in a box": ([('"300 mm"]', '"1 cm"]'), ('["0 cm"', '["1 cm"')], "exit", 'box "fuzz"'),
    "an edge that is none": ([('"right"', '"rigth"')], "entry", 'did you mean "right"?'),
    "a jack outside": ([at('["9 cm", "1 cm"]')], "output_at", "outside the box"),
    "a jack inside": ([at('["2 cm", "1 cm"]')], "output_at", "inside the box"),
    "a jack on a corner": ([at('["0 cm", "120 mm"]')], "output_at", "corner"),
    "a jack before the box": ([at('["-1 cm", "1 cm"]')], "output_at", "negative"),
    "jacks at one spot": ([at('["80 mm", "10 mm"]')], "output_at", "same spot"),
    "a jack where the other is by default": (
        [('input_at = ["8 cm", "1 cm"]', 'input_at = ["0 cm", "6 cm"]')], "input_at", "same spot",
    ),
    "jacks beside both": (
        [at('["80 mm", "3 cm"]'), (STAGE, f'{STAGE}\njacks = "back"')], "jacks", "no effect",
    ),
    "jacks that are none": ([(STAGE, f'{STAGE}\njacks = "bak"')], "jacks", 'did you mean "back"?'),
    "jacks on top": ([(STAGE, f'{STAGE}\njacks = "top"')], "jacks", 'did you mean "back"?'),
    "jacks elsewhere": (
        [(STAGE, f'{STAGE}\njacks = "near"')], "jacks", 'input_at and output_at, each from',
    ),
    "a size in one text": (
        [('["60 cm", "32 cm"]', '"24 x 12,5 in"')], "size", 'accepted: ["24 in", "12.5 in"]',
    ),
    "a size in one text of a list": (
        [('["60 cm", "32 cm"]', """['60" by 32"']""")], "size", 'accepted: ["60 in", "32 in"]',
    ),
    "an entry in one text": (
        [('"right"', '"60 x 3 cm"')], "entry", 'a position ["60 cm", "3 cm"]',
    ),
    "two voltages in one text": (
        [(STAGE, f'{STAGE}\nvoltage = "9-12 V"')], "voltage", 'accepted: ["9 V", "12 V"]',
    ),
    "two voltages with a stroke": (
        [(STAGE, f'{STAGE}\nvoltage = "9/12V"')], "voltage", 'accepted: ["9 V", "12 V"]',
    ),
    "AC": ([(STAGE, f'{STAGE}\nvoltage = "9-12 V AC"')], "voltage", "must not be fed"),
    "AC with a sign": ([(STAGE, f'{STAGE}\nvoltage = "~12 V"')], "voltage", "must not be fed"),
    "AC as a polarity": ([(STAGE, f'{STAGE}\npolarity = "AC"')], "polarity", "must not be fed"),
    "AC of an output": (
        [("[layout]", '[supplies.a]\noutputs = [{ current = 1, polarity = "ac" }]\n[layout]')],
        "[supplies.a], output 1, polarity", "an output of its own kind",
    ),
    "sold in one text": (
        [('["20 cm", "60 cm", "5 ft"]', '"24/6/12 in"')], "sold", '["6 in", "12 in", "24 in"]',
    ),
    "a box without a depth": ([('depth = "6 cm"', "")], "[boxes.switcher]", "depth is missing"),
    "a stage without a size": (
        [("part = \"echo-buffered\"", "input_resistance = 1e6\noutput_resistance = 100")],
        'stage "echo"', "width and depth are missing",
    ),
    "nothing sold": ([('["20 cm", "60 cm", "5 ft"]', "[]")], "sold", "empty"),
    "sold unsorted": (
        [('"20 cm", "60 cm"', '"60 cm", "20 cm"')],
        "sold", 'a larger one (found ["60 cm", "20 cm", "5 ft"]); accepted: each once, '
        'the smallest first: ["20 cm", "60 cm", "5 ft"]',
    ),
    "sold twice": ([('"20 cm", "60 cm"', '"60 cm", "60 cm"')], "sold", "stands here twice"),
    "sold twice in other units": (
        [('"20 cm", "60 cm"', '"20 cm", "200 mm"')], "sold", "stands here twice",
    ),
    "sold by nothing": ([('"20 cm", "60 cm"', '0, "60 cm"')], "sold", "more than 0"),
    "a loop in two boxes": (
        [(BOXES, BOXES + BOXES.replace("switcher", "other")), ('["echo"]', '["echo", "other"]')],
        "[boxes.other], loops", 'one of the box "switcher" already',
    ),
    "a loop that is not there": ([('["colour"]', '["color"]')], "loops", 'did you mean "colour"?'),
    "a loop twice in one box": (
        [('["colour"]', '["colour", "colour"]')], "[boxes.switcher], loops", "stands here twice",
    ),
    "a stage for a loop": ([('["colour"]', '["fuzz"]')], "loops", "this is a stage, no loop"),
    "a tap for a loop": ([('["colour"]', '["tuner"]')], "loops", "this is a tap, no loop"),
    "loops with a stage between": (
        [('["colour"]', '["colour", "space"]'), ('[[chain]]\nstage = "fuzz"',
         SECOND_LOOP + '[[chain]]\nstage = "fuzz"')],
        "[boxes.switcher], loops", "one input and one output",
    ),
    "loops at two levels": (
        [('["colour"]', '["colour", "space"]'), ("[[chain.inside]]\n", "[[chain.inside]]\n"
         'loop = "space"\n[[chain.inside.inside]]\n')],
        "[boxes.switcher], loops", "two levels",
    ),
    "a box that stands nowhere": (
        [('"boost", "switcher"', '"boost"')], "[boxes.switcher]", "stands nowhere",
    ),
    "boxes without a layout": (
        [(LAYOUT, ""), ('cable = "patch"\n\n', 'cable = "patch"\nlength = 1\n\n')],
        "[boxes.switcher]", "no effect",
    ),
    "a cable without a length and a layout": (
        [(LAYOUT, ""), (BOXES, "")], "[wiring]", "length is missing",
    ),
    "a tap without a length": (
        [('cable = "patch"\nlength = "1 m"\n', 'cable = "patch"\n')],
        'tap "tuner"', "the far end of a tap stands nowhere",
    ),
    "a stage called like a box": (
        [(STAGE, 'stage = "switcher"'), ('"boost", ', "")], "[boxes.switcher]", "a stage is called",
    ),
    "a loop called like a box": (
        [('loop = "colour"', 'loop = "switcher"'), ('["colour"]', '["switcher"]')],
        "[boxes.switcher]", "a loop is called",
    ),
    "a tap called like a box": (
        [('tap = "tuner"', 'tap = "switcher"')], "[boxes.switcher]", "a tap is called",
    ),
    "a name of nothing": (
        [("[boxes.switcher]", '[boxes." "]'), (', "switcher"]', "]")], "[boxes. ]", "empty",
    ),
    "a box that is no table": (
        [(BOXES, "[boxes]\nswitcher = 3\n")], "[boxes.switcher]", "a table is wanted",
    ),
    "boxes in a list": ([("[boxes.switcher]", "[[boxes]]")], "[boxes]", "one bracket"),
    "a layout in a list": ([("[layout]", "[[layout]]")], "[layout]", "one bracket"),
    "a slip in a section": ([("[layout]", "[laoyut]")], "", 'did you mean "layout"?'),
    "a key of the layout in the wiring": (
        [("[wiring]", '[wiring]\ngap = "1 cm"')], "[wiring]", "it belongs to [layout]",
    ),
    "a key of a box in the layout": (
        [("[layout]", '[layout]\nwidth = "1 m"')], "[layout]", "belongs to [boxes.NAME] or a stage",
    ),
    "a key of a kind of cable in the wiring": (
        [("[wiring]", '[wiring]\nsold = ["1 m"]')], "[wiring]", "it belongs to [cables.NAME]",
    ),
}  # fmt: skip


def test_the_board_itself_is_good() -> None:
    assert not parse_board(WHOLE).warnings


@pytest.mark.parametrize(("pairs", "where", "what"), WRONG.values(), ids=WRONG)
def test_what_is_wrong_is_said_once(pairs: list[tuple[str, str]], where: str, what: str) -> None:
    """One message with its place, what was found and what would do."""
    (said,) = problems(changed(*pairs))
    assert where in said
    assert what in said


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('["20 cm", "60 cm", "5 ft"]', "[0.2, 6, 12, 24]", "sold: 6, 12 and 24 are read in metres"),
        ('["60 cm", "32 cm"]', '[24, "12.5"]', 'size: 24 and 12.5 are read in metres; "24 in" or'),
        ('gap = "2 cm"', "gap = 1", 'gap: 1 is read in metres; "1 in" or "1 cm"?'),
        ('slack = "3 cm"', "slack = 3", "slack: 3 is read in metres"),
        ('depth = "6 cm"', "depth = 6", "[boxes.switcher], depth: 6 is read in metres"),
        ('gap = "2 cm"', "gap = 0.02", ""),
        ('["20 cm", "60 cm", "5 ft"]', '[0.2, 3, "6 m"]', ""),
        ('["60 cm", "32 cm"]', '["6 m", 5]', ""),
    ],
)
def test_bare_numbers_that_nobody_means_in_metres(old: str, new: str, said: str) -> None:
    """What is written without a unit is believed, and asked about; with one it is meant."""
    warnings = parse_board(changed((old, new)), lacking=True).warnings
    assert len(warnings) == bool(said), warnings
    assert all(said in warning for warning in warnings)


HELD = WHOLE.replace('rows = [["echo"]', 'rows = [["echo", "bay"]').replace(
    '[[chain]]\ncable = "lead"\nlength = "5 m"\n[[chain]]\nstage',
    '[boxes.bay]\nwidth = "9 cm"\ndepth = "6 cm"\nloops = ["send"]\n'
    '[[chain]]\ncable = "lead"\nlength = 5\n[[chain]]\nloop = "send"\nboard = "deck.toml"\n'
    'prefix = "deck "\nlead_out = { cable = "lead", length = 3 }\n'
    "[[chain]]\nstage",
)


def with_deck(folder: Path, main: str = HELD, deck: str = WHOLE) -> Path:
    """Write a board with another one in a loop of it."""
    (folder / "deck.toml").write_text(deck, encoding="utf-8")
    path = folder / "main.toml"
    path.write_text(main, encoding="utf-8")
    return path


def test_a_board_inside_has_a_layout_of_its_own(tmp_path: Path) -> None:
    board = read_board(with_deck(tmp_path), lacking=True)
    (loop,) = [item for item in board.listed if isinstance(item, Loop) and item.board]
    assert loop.lays is not None
    inner = layout(Board(**{**vars_of(board), "laying": loop.lays}))
    assert inner.file.endswith("deck.toml")
    assert inner.rows == (("deck echo",), ("deck fuzz", "deck boost", "deck switcher"))
    assert inner.boxes["deck switcher"].loops == ("deck colour",)
    assert loop.wiring is not None
    assert loop.wiring.lays is loop.lays
    assert layout(board).rows[0] == ("echo", "bay")


def vars_of(board: Board) -> dict[str, Any]:
    names = ("title", "file", "instrument", "destination", "listed")
    return {name: getattr(board, name) for name in names}


@pytest.mark.parametrize(
    ("main", "deck", "where", "what"),
    [
        ("", '"fuzz", "boost"', "deck.toml, from line", 'did you mean "fuzz"?'),
        ('"echo", "bay"', "", "main.toml: 1 problem", "deck.toml, whose own [layout]"),
        ('["send"]', "", "[boxes.bay], loops", "deck.toml, whose own [boxes]"),
        (', length = 3 }', "", "lead_out", "it leads to another board"),
    ],
)  # fmt: skip
def test_whose_layout_is_wrong_is_told(
    tmp_path: Path, main: str, deck: str, where: str, what: str
) -> None:
    new = {
        '"fuzz", "boost"': '"fuz", "fuzz", "boost"',
        '"echo", "bay"': '"echo", "bay", "deck boost"',
        '["send"]': '["send", "deck colour"]',
        ", length = 3 }": " }",
    }
    one, two = (given.replace(old, new.get(old, "")) if old else given
                for given, old in ((HELD, main), (WHOLE, deck)))  # fmt: skip
    with pytest.raises(BoardError) as caught:
        read_board(with_deck(tmp_path, one, two), lacking=True)
    assert len(caught.value.problems) == 1
    assert where in str(caught.value)
    assert what in str(caught.value)


VARIANTS = """
[variants.moved]
boost = { place = ["40 cm", "20 cm"] }
[variants.rows]
layout = { rows = [["switcher"], ["fuzz", "boost", "echo"]], gap = "1 cm" }
[variants.other]
boost = { part = "pedal-buffered", stage = "kick" }
colour = { loop = "tint" }
[variants.less]
out = ["colour", "boost"]
[variants.wide]
boxes.switcher = { width = "40 cm", jacks = "back" }
cables.patch = { sold = ["2 m"] }
"""


def read(*variants: str, values: tuple[str, ...] = ()) -> Board:
    return parse_board(WHOLE + VARIANTS, "board", Changes(variants, values))


def test_a_variant_moves_a_box() -> None:
    """What gets a place leaves its row, what gets a row leaves its place: the last word counts."""
    moved = layout(read("moved"))
    assert moved.rows == (("echo",), ("fuzz", "switcher"))
    assert moved.boxes["boost"].place == (0.4, 0.2)
    new = (("switcher",), ("fuzz", "boost", "echo"))
    assert layout(read("rows")).rows == layout(read("moved", "rows")).rows == new
    assert layout(read("moved", "rows")).boxes["boost"].place is None
    assert layout(read("rows", "moved")).rows == (("switcher",), ("fuzz", "echo"))


def test_a_variant_gives_place_and_row_at_once_in_vain() -> None:
    wrong = VARIANTS.replace('"] }', '"] }\nlayout = { rows = [["fuzz", "boost", "switcher"]] }', 1)
    (said,) = problems(WHOLE + wrong)
    assert '[variants.moved], "boost", place' in said
    assert "stands in row 1 too" in said


def test_rows_and_boxes_follow_names() -> None:
    other = layout(read("other"))
    assert other.rows[1] == ("fuzz", "kick", "switcher")
    assert other.boxes["switcher"].loops == ("tint",)
    # The size and the jacks of a part that takes the place come from the part.
    assert other.boxes["kick"] == Box("kick", 0.07, 0.12)
    less = layout(read("less"))
    assert less.rows == (("fuzz", "switcher"),)
    assert less.boxes["switcher"].loops == ()


def test_a_variant_that_leaves_a_cable_without_a_length_is_told() -> None:
    """Like all that is wrong in a variant, by whoever reads the file."""
    far = '[variants.far]\nboost = { place = ["5 m", "4 cm"] }\n'
    said = problems(WHOLE + far)
    assert len(said) == 2
    assert all("[variants.far], the 'patch' cable" in one for one in said)
    assert parse_board(WHOLE + far, lacking=True)


def test_what_the_file_lacks_is_not_told_again_of_its_variants() -> None:
    short = changed(('"60 cm", "5 ft"', '"25 cm"'))
    alone = problems(short)
    louder = '[variants.louder]\ndestination = { input_resistance = "10 kΩ" }\n'
    assert problems(short + louder) == alone


def test_boxes_and_what_is_sold_in_a_variant() -> None:
    board = read("wide")
    assert layout(board).boxes["switcher"] == Box("switcher", 0.4, 0.06, "back", loops=("colour",))
    assert board.laying is not None
    assert board.laying.sold == {"patch": (2.0,)}


SET: dict[str, tuple[str, object]] = {
    "boxes.switcher.width=40 cm": ("boxes.switcher.width", 0.4),
    "boxes.switcher.loops=colour": ("boxes.switcher.loops", ("colour",)),
    "layout.gap=3 cm": ("gap", 0.03),
    "layout.size=1 m, 50 cm": ("size", (1.0, 0.5)),
    "layout.entry=left": ("entry", "left"),
    "layout.entry=1 cm, 30 cm": ("entry", (0.01, 0.3)),
    'layout.rows=[["switcher"], ["boost", "fuzz"]]': (
        "rows", (("switcher",), ("boost", "fuzz")),
    ),
    "boost.place=40 cm, 20 cm": ("rows", (("echo",), ("fuzz", "switcher"))),
    'boost.place=["40 cm", "20 cm"]': ("boxes.boost.place", (0.4, 0.2)),
    "boost.jacks=back": ("boxes.boost.jacks", "back"),
    "boost.output_at=0, 2 cm": ("boxes.boost.output_at", (0.0, 0.02)),
}  # fmt: skip


@pytest.mark.parametrize(("given", "expected"), SET.items())
def test_one_value_on_the_command_line(given: str, expected: tuple[str, object]) -> None:
    found: Any = layout(parse_board(WHOLE, "board", Changes((), (given,)), lacking=True))
    for key in expected[0].split("."):
        found = found[key] if isinstance(found, dict) else getattr(found, key)
    assert found == expected[1]


@pytest.mark.parametrize(
    "given",
    ["layout.rows=fuzz, boost", 'layout.rows=[["fuzz"', "layout.gab=1 cm", "layout.size=1 m",
     "boxes.swicher.width=1 m", "boost.place=1 cm", "boost.output_at=1 cm, 1 cm",
     "cables.patch.sold=2 m, 1 m", "layout.gap=-1 cm"],
)  # fmt: skip
def test_a_value_that_will_not_do_names_the_option(given: str) -> None:
    with pytest.raises(SigsimError, match=r"^--set") as caught:
        parse_board(WHOLE, "board", Changes((), (given,)))
    assert given.partition("=")[0].rpartition(".")[0] in str(caught.value)


@pytest.mark.parametrize("seed", range(tries(3, 60)))
def test_an_edit_of_the_text_says_the_same_as_the_edit(seed: int) -> None:
    """Each stage and loop once renamed, once taken out: rows and boxes follow in the text."""
    written = text(laid_board(seed))
    board = parse_board(written)
    tried = 0
    for place, item in edit.places(board):
        if not isinstance(item, ActiveStage | Loop):
            continue
        new = edit.with_values(board, place, {item.key: "renamed"}, {})
        same = edit_file.with_values(written, place, {item.key: "renamed"})
        assert layout(new) == layout(parse_board(same))
        try:
            less = edit.taken_out(board, place)
        except SigsimError:
            continue
        tried += 1
        left = parse_board(edit_file.taken_out(written, place), lacking=True)
        assert layout(less) == layout(left)
    assert tried


def test_a_cable_of_other_ready_made_lengths_is_the_same_cable() -> None:
    """Sold lengths change nothing of what a cable does."""
    other = parse_board(changed(('"20 cm", ', "")), lacking=True)
    assert other.cables == parse_board(WHOLE).cables
