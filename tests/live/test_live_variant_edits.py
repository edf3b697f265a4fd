"""Edits while a variant is shown, of boards inside others, and of layouts."""

from __future__ import annotations

import random
from typing import Any

import pytest
from helpers.live_edits import Chance
from helpers.program import EXAMPLES
from helpers.thinned import tries
from helpers.variant_boards import VARIED

from sigsim.board import edit
from sigsim.board.model import Board
from sigsim.errors import SigsimError
from sigsim.items.cable import Cable
from sigsim.live.answer import board_of
from sigsim.live.edits import edited
from sigsim.units import parse

PLAN = EXAMPLES / "ferry-plan.toml"
FLOOR = EXAMPLES / "ferry-floor.toml"
BIG = EXAMPLES / "ferry-guitar-big.toml"
TEXT = PLAN.read_text(encoding="utf-8")
# These are about the file as a whole, whatever variant is shown.
OF_THE_FILE = ("title", "scene", "scene-out", "scene-name")


def told(board: Board) -> Any:
    return board.instrument, board.destination, board.listed, board.wiring, dict(board.cables)


@pytest.mark.parametrize("variant", board_of(TEXT, PLAN).variants)
def test_what_a_variant_carries_leaves_the_file_as_written(variant: str) -> None:
    draw, text, done = random.Random(variant), TEXT, 0
    written = told(board_of(TEXT, PLAN))
    for _ in range(tries(10, 60)):
        given = Chance(draw, board_of(text, PLAN, variant)).edit()
        if given is None or given["do"] in OF_THE_FILE:
            continue
        try:
            made = edited(text, given, PLAN, variant)
        except SigsimError:
            continue
        assert told(board_of(made.text, PLAN)) == written, given
        text, done = made.text, done + 1
    assert done


def test_values_and_what_is_out_go_into_the_table_of_the_variant() -> None:
    variant = "harbour-stage"
    board = board_of(TEXT, PLAN, variant)
    place = next(p for p, item in edit.places(board) if item.label == "hired compressor")
    at = {"place": list(place)}
    made = edited(TEXT, {"do": "set", "at": at, "keys": {"gain": "3 dB"}}, PLAN, variant)
    item: Any = edit.item_at(board_of(made.text, PLAN, variant), place)
    assert item.gain == 3.0
    made = edited(made.text, {"do": "take-out", "at": at}, PLAN, variant)
    assert '"even keel"]' in made.text
    assert "hired compressor" not in board_of(made.text, PLAN, variant).stage_names()
    assert "even keel" in board_of(made.text, PLAN).stage_names()


@pytest.mark.parametrize("do", ["move", "insert", "length", "loop-around"])
def test_what_a_variant_cannot_carry_says_what_to_do(do: str) -> None:
    given = {"at": {"place": [1]}, "gap": {"place": [2]}, "by": 1, "part": "buffer-opamp"}
    if do == "length":
        given |= {"at": {"place": [0]}, "length": "2 m"}
    with pytest.raises(SigsimError, match='choose "as written" first'):
        edited(TEXT, {"do": do, **given}, PLAN, "active-bass")


@pytest.mark.parametrize("side", ["out", "back"])
@pytest.mark.parametrize("variant", ["", "one-board", "active-bass"])
def test_leads_to_a_board_inside_are_of_this_file(side: str, variant: str) -> None:
    at = {"place": [5], "lead": side}
    made = edited(TEXT, {"do": "length", "at": at, "length": "15 ft"}, PLAN, variant)
    board = board_of(made.text, PLAN, variant)
    loop: Any = edit.item_at(board, (5,))
    piece = loop.inside[0 if side == "out" else -1]
    assert isinstance(piece, Cable)
    assert piece.length == parse("15 ft", "length").value
    assert "send 30 cm → 15 ft" in made.words or "send 3 m → 15 ft" in made.words


@pytest.mark.parametrize(
    "do", ["set", "take-out", "move", "rename", "part", "insert", "loop-around"]
)
def test_what_another_file_holds_is_refused_with_its_name(do: str) -> None:
    place = [5, 1]
    given = {
        "at": {"place": place},
        "gap": {"place": place},
        "keys": {"bypass": "buffered"},
        "by": 1,
        "name": "other",
        "part": "pedal-buffered",
    }
    with pytest.raises(SigsimError, match=r"ferry-plan-deck\.toml"):
        edited(TEXT, {"do": do, **given}, PLAN)


def test_variants_and_scenes_follow_a_name_and_forget_what_is_out() -> None:
    text = TEXT
    place = next(p for p, i in edit.places(board_of(text, PLAN)) if i.label == "even keel")
    at = {"place": list(place)}
    made = edited(text, {"do": "rename", "at": at, "name": "steady [x]"}, PLAN)
    board = board_of(made.text, PLAN, "harbour-stage")
    assert "hired compressor" in board.stage_names()
    gone = edited(made.text, {"do": "take-out", "at": at}, PLAN)
    assert "steady" not in gone.text
    send = edited(text, {"do": "take-out", "at": {"place": [5]}}, PLAN)
    assert "send" not in board_of(send.text, PLAN).stage_names()
    assert board_of(send.text, PLAN).variants == board_of(text, PLAN).variants


def test_a_patch_of_a_layout_becomes_a_line_with_its_length() -> None:
    text = FLOOR.read_text(encoding="utf-8")
    board = board_of(text, FLOOR)
    assert board.wiring is not None
    made = edited(text, {"do": "length", "at": {"wiring": [3]}, "length": "1 ft"}, FLOOR)
    after = board_of(made.text, FLOOR)
    new = edit.item_at(after, (3,))
    assert isinstance(new, Cable)
    assert new.length == parse("1 ft", "length").value
    before = [float(run.made.length) for run in board.runs if run.made]
    lengths = [float(run.made.length) for run in after.runs if run.made]
    assert len(before) == len(lengths)
    assert sum(one != other for one, other in zip(before, lengths, strict=True)) == 1


def test_a_change_after_which_a_layout_gives_no_length_is_refused() -> None:
    text = FLOOR.read_text(encoding="utf-8")
    with pytest.raises(SigsimError, match="give this cable a length"):
        edited(text, {"do": "loop-around", "at": {"place": [1]}}, FLOOR)


def test_a_loop_around_a_box_and_away_again() -> None:
    text = BIG.read_text(encoding="utf-8")
    board = board_of(text, BIG)
    place = next(p for p, item in edit.places(board) if item.label == "gravel")
    around = edited(text, {"do": "loop-around", "at": {"place": list(place)}, "name": "ring"}, BIG)
    ringed = board_of(around.text, BIG)
    assert "ring" in ringed.switches()
    # A scene sounds as before: the loop is in where its box is on.
    heard = {name for name, on in board.scenes.items() if "gravel" in on}
    assert heard
    assert {name for name, on in ringed.scenes.items() if "ring" in on} == heard
    away = edited(around.text, {"do": "loop-away", "at": {"place": list(place)}}, BIG)
    assert board_of(away.text, BIG).listed == board.listed
    inner = edited(text, {"do": "loop-away", "at": {"place": [place[0]]}}, BIG)
    listed = board_of(inner.text, BIG)
    assert "rough" not in listed.switches()
    assert "gravel" in listed.switches()
    assert all("rough" not in on for on in listed.scenes.values())


@pytest.mark.parametrize("place", [[5, 0], [5, 1], [5, 4], [8], [9], [0], [99], [2, 0]])
def test_no_patch_of_this_file_lies_there(place: list[int]) -> None:
    for do in ({"do": "length", "length": "1 m"}, {"do": "cable", "name": "lead"}):
        with pytest.raises(SigsimError):
            edited(TEXT, {**do, "at": {"wiring": place}}, PLAN)


def test_a_file_without_wiring_says_what_is_plugged_straight_in() -> None:
    text = (
        '[instrument]\npart = "bass-split-coil"\n[destination]\npart = "instrument-input"\n'
        '[cables.lead]\npart = "cable-standard"\n[[chain]]\ncable = "lead"\nlength = "3 m"\n'
        '[[chain]]\nstage = "a"\npart = "pedal-true-bypass"\n[[chain]]\ncable = "lead"\n'
        'length = "3 m"'
    )
    given = {"do": "insert", "gap": {"place": [2]}, "part": "buffer-opamp"}
    made = edited(text, given, PLAN)
    assert made.words == "a buffer after a, plugged straight in"
    wired = edited(made.text, {"do": "all-lengths", "length": "20 cm"}, PLAN)
    wiring = board_of(wired.text, PLAN).wiring
    assert wiring is not None
    assert wiring.cable == "lead"
    assert not wired.text.endswith("\n")


def test_another_part_in_a_variant_is_that_part_and_nothing_of_the_old_one() -> None:
    path, variant = EXAMPLES / "none.toml", "long & thick"
    given = {"do": "cable-part", "name": "lead", "part": "cable-low"}
    sold = 'capacitance = "180 pF/m", sold = ["3 m", "9 m"] }'
    text = VARIED.replace('capacitance = "180 pF/m" }', sold)
    in_variant = board_of(edited(text, given, path, variant).text, path, variant)
    as_written = board_of(edited(text, given, path).text, path)
    lead, wanted = in_variant.cables["lead"], as_written.cables["lead"]
    assert (lead.part, lead.capacitance) == ("cable-low", wanted.capacitance)
    assert [float(length) for length in lead.sold] == [3.0, 9.0]


def test_remarks_inside_the_list_of_what_a_variant_leaves_out_stay() -> None:
    path = EXAMPLES / "none.toml"
    text = VARIED.replace('out = ["wet"]', 'out = [  # nothing\n  "wet",  # but dry\n]')
    given = {"do": "take-out", "at": {"place": [1]}}
    made = edited(text, given, path, "dry").text
    assert "[  # nothing\n" in made
    assert '"wet",  # but dry\n' in made
    assert board_of(made, path, "dry").stage_names() == ("fuzz", "preamp")
    assert edited(made, {"do": "title", "name": "other"}, path, "dry").text != made
