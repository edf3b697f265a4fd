"""The wiring sheet: sums against the hand check, lists against the file, files against readers."""

from __future__ import annotations

import csv
import io
import json
from collections import Counter
from html.parser import HTMLParser
from pathlib import Path
from typing import Any, Final

import pytest
from helpers.boards import boards, flat, to_toml
from helpers.in_process import sigsim_here
from helpers.program import EXAMPLES
from helpers.refusals import assert_refused
from helpers.report_boards import EVERYTHING, HOSTILE, hostile_board
from helpers.thinned import tries
from hypothesis import given, settings

from sigsim.board.reader import parse_board, read_board
from sigsim.decide.sheet import Connection, sheet
from sigsim.items.cable import Cable
from sigsim.items.tap import Tap
from sigsim.show.points import point
from sigsim.show.render.csv import as_csv
from sigsim.show.render.html import as_html
from sigsim.show.render.markdown import as_markdown
from sigsim.show.sheet import document
from sigsim.states.hand_check import hand_check

BOARD: Final = EXAMPLES / "ferry-bass.toml"

# A chain small enough to add up by hand. Invented figures.
SMALL: Final = """
title = "small"
[instrument]
resistance = "8 kΩ"
inductance = "4 H"
capacitance = "100 pF"
[destination]
name = "amplifier"
input_resistance = "1 MΩ"
input_capacitance = "150 pF"
[cables.lead]
capacitance = "100 pF/m"
plug_capacitance = "5 pF"
[cables.patch]
capacitance = "150 pF/m"
plug_capacitance = "10 pF"
[wiring]
cable = "patch"
length = "20 cm"
[[chain]]
cable = "lead"
length = "6 m"
[[chain]]
stage = "tuner"
input_resistance = "1 MΩ"
output_resistance = "1 kΩ"
wiring_capacitance = "40 pF"
[[chain]]
tap = "tuner output"
cable = "lead"
length = "2 m"
open = true
[[chain]]
loop = "colour"
wiring_capacitance = "30 pF"
[[chain.inside]]
stage = "swirl"
input_resistance = "1 MΩ"
output_resistance = "1 kΩ"
wiring_capacitance = "20 pF"
[[chain]]
stage = "echo"
input_resistance = "1 MΩ"
input_capacitance = "25 pF"
output_resistance = "1 kΩ"
bypass = "buffered"
[[chain]]
cable = "lead"
length = "3 m"
[[chain]]
cable = "lead"
length = "6 m"
[scenes]
clean = []
"wide solo" = ["colour", "swirl", "echo"]
odd = ["swirl"]
"""
# from, to, cable, own pF, pF so far, sees the pickup. Added up by hand from the figures above.
BY_HAND: Final = [
    ("instrument", "tuner", "lead", 610, 610, True),
    ("tuner", "tuner output (far end)", "lead", 210, 610 + 40 + 210, True),
    ("tuner", "colour: input", "patch", 50, 910, True),
    ("colour: send", "swirl", "patch", 50, 960, True),
    ("swirl", "colour: return", "patch", 50, 960 + 20 + 50, True),
    ("colour: output", "echo", "patch", 50, 910 + 30 + 50, True),
    ("echo", "joint of two cables", "lead", 310, 310, False),
    ("joint of two cables", "amplifier", "lead", 610, 920, False),
]


def shown(c: Connection) -> tuple[object, ...]:
    pico = [round(value * 1e12, 6) for value in (c.capacitance, c.so_far)]
    return (point(c.begin), point(c.end), c.cable, *pico, c.sees_pickup)


def test_a_chain_added_up_by_hand() -> None:
    made = sheet(parse_board(SMALL))
    assert [c.number for c in made.connections] == list(range(1, 9))
    assert [shown(c) for c in made.connections] == BY_HAND
    runs = [[round(1e12 * c, 6) for c in (r.winding, r.cables, r.boxes, r.input, r.total)]
            for r in made.runs]  # fmt: skip
    assert runs == [[100, 610 + 210 + 50 + 50, 70, 25, 1115], [0, 920, 0, 150, 1070]]


def test_cut_and_buy() -> None:
    lead, patch = sheet(parse_board(SMALL), 0.25).purchases
    assert lead.pieces == ((2.0, 1), (3.0, 1), (6.0, 2))
    assert (lead.total, lead.with_spare, lead.plugs) == (17.0, 21.25, 8)
    assert patch.pieces == ((0.2, 4),)
    assert (patch.total, patch.with_spare, patch.plugs) == (0.8, 1.0, 8)


def test_switch_on_table() -> None:
    made = sheet(parse_board(SMALL)).switches
    assert list(made) == ["tuner", "colour", "swirl", "echo"]
    assert list(made["swirl"].values()) == ["off", "on", "hidden"]
    assert list(made["colour"].values()) == ["off", "on", "off"]
    everything = sheet(parse_board(EVERYTHING)).switches
    assert set(everything["steady preamp"].values()) == {"always"}


@settings(max_examples=tries(24, 60))
@given(drawn=boards(splits=False))
def test_sums_are_those_of_the_hand_check(drawn: Any) -> None:
    """The hand check adds up item by item; the pieces are those of the file and its wiring."""
    board = parse_board(to_toml(drawn, 1))
    made = sheet(board)
    checks = hand_check(board, frozenset())
    assert [run.total for run in made.runs] == pytest.approx([c.capacitance for c in checks])
    cables = [item for item in board.items() if isinstance(item, Cable)]
    taps = [item.cable for item in board.items() if isinstance(item, Tap)]
    listed = Counter((c.cable, c.length) for c in made.connections if c.cable is not None)
    assert listed == Counter((c.cable, c.length) for c in [*cables, *taps])
    bought = {(p.cable, length): n for p in made.purchases for length, n in p.pieces}
    assert bought == listed
    # Every box and every loop has one way in; a loop has a way back as well.
    ends = Counter(c.end.at for c in made.connections)
    items = list(flat(drawn["chain"]))
    assert ends["stage"] == sum("stage" in item for item in items)
    assert ends["loop in"] == ends["return"] == sum("loop" in item for item in items)
    assert ends["destination"] == 1
    assert ends["far end"] == sum("tap" in item for item in items)


@settings(max_examples=tries(10, 25))
@given(drawn=boards())
def test_every_form_can_be_written(drawn: Any) -> None:
    wired = sheet(parse_board(to_toml(drawn, 1)))
    count, made = len(wired.connections), document(wired)
    assert len(blocks_of(as_csv(made))[0]) == count + 1
    # What is plugged in at a Y right at an input is no cable to lay, and nothing to tick off; nor
    # is a split at an output, which is a second jack there.
    bare = [c for c in wired.connections if c.cable is None]
    nothing = sum(c.begin.at == "tap" or c.end.at == "split" for c in bare)
    assert as_html(made).count("☐") == count - nothing
    assert as_markdown(made).count("\n| ") >= count


def blocks_of(text: str) -> list[list[list[str]]]:
    """Return the tables of a CSV file that stand one below the other."""
    found: list[list[list[str]]] = [[]]
    for row in csv.reader(io.StringIO(text)):
        if row:
            found[-1].append(row)
        else:
            found.append([])
    return found


def test_csv(tmp_path: Path) -> None:
    path = tmp_path / "sheet.csv"
    run = sigsim_here("sheet", BOARD, "-o", path, "--spare", 20)
    assert (run.status, run.err) == (0, "")
    connections, buy, scenes = blocks_of(path.read_text(encoding="utf-8"))
    document = json.loads(sigsim_here("sheet", BOARD, "--json", "--spare", 20).out)
    for row, expected in zip(connections[1:], document["connections"], strict=True):
        found = dict(zip(connections[0], row, strict=True))
        assert found["from"] == expected["from"]
        assert float(found["length_m"]) == expected["length_m"]
        assert float(found["so_far_f"]) == pytest.approx(expected["so_far_f"], rel=1e-9)
    lead = [row for row in buy[1:] if row[0] == "lead"]
    assert sum(float(row[5]) for row in lead) == pytest.approx(14 * 1.2)
    assert scenes[0][1:] == list(read_board(BOARD).scenes)
    assert ["bilge fuzz", "off", "off", "off", "on"] in scenes


def test_terminal(tmp_path: Path) -> None:
    out = sigsim_here("sheet", BOARD).out
    assert out.startswith(
        "9 connections with 15.75 m of cable in 9 pieces; at worst it takes 8.7 dB"
    )
    assert "(heavy)" in out
    board = tmp_path / "board.toml"
    long = BOARD.read_text().replace("bilge fuzz", "a name that is longer than any column " * 3)
    board.write_text(long, encoding="utf-8")
    for made in (
        out,
        sigsim_here("sheet", board).out,
        sigsim_here("sheet", EXAMPLES / "ferry-guitar-big.toml").out,
    ):
        assert max(map(len, made.splitlines())) <= 80


class Texts(HTMLParser):
    """Names and texts of elements."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: Counter[str] = Counter()
        self.text = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Count an element."""
        self.tags[tag] += 1
        assert not {"style", "src", "href", "onload", "onerror"} & {name for name, _ in attrs}

    def handle_data(self, data: str) -> None:
        """Keep text."""
        self.text += data


def test_hostile_names_are_only_text(tmp_path: Path) -> None:
    made = document(sheet(parse_board(hostile_board())))
    page = Texts(as_html(made))
    assert not {"script", "img", "svg", "a", "b"} & set(page.tags)
    for name in HOSTILE:
        assert name.replace("\\\\", "\\")[:20].replace("'", "`") in page.text.replace("'", "`")
    markdown = as_markdown(made)
    assert "<script" not in markdown.replace("\\<", "")
    assert "=1+1\\|\\`x\\`" in markdown
    cells = [cell for block in blocks_of(as_csv(made)) for row in block for cell in row]
    assert not [cell for cell in cells if cell[:1] in "=+-@" and cell not in ("", "-")]
    assert "'=1+1|`x`" in cells


def test_page_is_closed_and_has_room_for_notes() -> None:
    page = as_html(document(sheet(read_board(BOARD))))
    assert "default-src 'none'; script-src 'none'; style-src 'sha256-" in page
    assert "unsafe" not in page
    for text in ("Date", "Notes", "Connections", "To cut and to buy", "Switched on", "@page"):
        assert text in page
    assert page.count("class=line") >= 6


BAD: Final[dict[str, tuple[list[str], list[str]]]] = {
    "other ending": (["-o", "sheet.htm"], ["-o", "sheet.htm", ".html", "did you mean"]),
    "no ending": (["-o", "sheet"], ["-o", ".html .md .csv"]),
    "exists": (["-o", "old.md"], ["exists", "--force"]),
    "no folder": (["-o", "nowhere/sheet.md"], ["no such folder"]),
    "negative spare": (["--spare", "-1"], ["--spare", "-1", "0 to 500"]),
    "huge spare": (["--spare", "1e9"], ["--spare", "0 to 500"]),
    "no number": (["--spare", "nan"], ["--spare"]),
    "words": (["--spare", "much"], ["--spare"]),
}


@pytest.mark.parametrize("name", BAD)
def test_bad_input(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    monkeypatch.chdir(tmp_path)
    arguments, words = BAD[name]
    (tmp_path / "old.md").write_text("old")
    run = sigsim_here("sheet", BOARD, *arguments)
    assert_refused(run, *words)
    assert [p.name for p in tmp_path.iterdir()] == ["old.md"]
    assert (tmp_path / "old.md").read_text() == "old"


def test_force_overwrites(tmp_path: Path) -> None:
    path = tmp_path / "sheet.md"
    path.write_text("old")
    assert sigsim_here("sheet", BOARD, "-o", path, "--force").status == 0
    assert path.read_text(encoding="utf-8").startswith("# Wiring sheet: Night ferry")


def test_inputs_inside_a_loop_see_the_pickup_only_once_it_is_in(tmp_path: Path) -> None:
    stage = 'input_resistance = "1M"\noutput_resistance = "1k"\nbypass = "true"\n'
    board = tmp_path / "b.toml"
    board.write_text(
        '[instrument]\nresistance = "9k"\ninductance = "5 H"\n[destination]\n'
        '[[chain]]\nloop = "two"\n'
        f'[[chain.inside]]\nstage = "x"\n{stage}[[chain]]\nstage = "y"\n{stage}'
    )
    said = " ".join(sigsim_here("sheet", board).out.split())
    assert "Inputs that see the pickup with all off: y, amp." in said
    assert "Inside a loop, once it alone is in, also: x." in said


SIDES: Final = """
[instrument]
resistance = "8 kΩ"
inductance = "4 H"
[destination]
input_resistance = "1 MΩ"
[cables.lead]
capacitance = "33 pF/ft"
plug_capacitance = "5 pF"
[cables.bare]
[cables.patch]
part = "cable-patch"
capacitance = "100 pF/m ± 10 %"
[[chain]]
cable = "lead"
length = "15 ft"
[[chain]]
tap = "tuner"
cable = "lead"
length = "32 in"
input_resistance = "1 MΩ"
input_capacitance = "20 pF"
input_series_resistance = "34 kΩ"
[[chain]]
stage = "drive"
input_resistance = "1 MΩ"
output_resistance = "1 kΩ"
[[chain]]
tap = "left in"
cable = "patch"
length = "20 cm"
open = true
[[chain]]
cable = "bare"
length = "30 ft"
"""


def test_a_side_cable_says_what_it_hangs_on_and_what_is_at_its_far_end(tmp_path: Path) -> None:
    made = document(sheet(parse_board(SIDES)))
    rows = [row for row in as_markdown(made).splitlines() if row.startswith("| ")][1:6]
    cells = [[cell.strip() for cell in row.split("|")[1:6]] for row in rows]
    assert [cell[1:4] for cell in cells if cell[0].isdigit()] == [
        ["instrument", "Y for tuner", "lead"],
        ["Y for tuner", "tuner (far end): input of 1 MΩ and 20 pF behind 34 kΩ", "lead"],
        ["Y for tuner", "drive", "at the input"],
        ["output of drive", "left in (far end): open", "patch"],
    ]
    page = as_html(made)
    assert "no cable" not in page
    assert page.count("☐") == 4  # five connections, of which one is only a Y
    board = tmp_path / "board.toml"
    board.write_text(SIDES)
    found = json.loads(sigsim_here("sheet", board, "--json").out)
    far = ("resistance_ohm", "capacitance_f", "series_resistance_ohm")
    keys = ("side_cable", *(f"far_end_{key}" for key in far))
    none = [False, None, None, None]
    assert [[c[key] for key in keys] for c in found["connections"]] == [
        none,
        [True, 1e6, pytest.approx(20e-12), 34e3],
        none,
        [True, None, 0.0, 0.0],
        none,
    ]


def test_a_cable_can_be_bought_by_its_figures(tmp_path: Path) -> None:
    """As the file writes them, in its own units; one foot is 0.3048 m exactly (yard of 1959)."""
    board = tmp_path / "board.toml"
    board.write_text(SIDES)
    out = sigsim_here("sheet", board).out
    assert "\nlead: 33 pF/ft, each plug 5 pF.\n" in out
    assert "\npatch: part cable-patch, 100 pF/m.\n" in out
    assert "\nbare: no figures in the file.\n" in out
    found = {p["cable"]: p for p in json.loads(sigsim_here("sheet", board, "--json").out)["buy"]}
    assert found["lead"]["capacitance_f_per_m"] == pytest.approx(33e-12 / 0.3048)
    assert found["lead"]["plug_capacitance_f"] == 5e-12
