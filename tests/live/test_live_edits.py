"""Edits of a board file's text: only what is meant changes, as the same change of a board."""

from __future__ import annotations

import random
import re
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import astuple, replace
from pathlib import Path
from typing import Any

import pytest
from helpers.boards import boards, to_toml
from helpers.live_edits import WORDS, Chance
from helpers.program import EXAMPLES
from helpers.thinned import some, tries
from helpers.variant_boards import SMALL
from hypothesis import given, seed, settings
from hypothesis import strategies as st

from sigsim.board import edit, reorder
from sigsim.board.model import Board
from sigsim.board.part_stage import stage_of
from sigsim.errors import SigsimError
from sigsim.items.cable import Cable
from sigsim.items.split import Split
from sigsim.items.tap import Tap
from sigsim.live.boards import board_of
from sigsim.live.document import Document
from sigsim.live.edits import EDITS, edited
from sigsim.live.edits.inserting import new_name
from sigsim.units import parse

BASS = EXAMPLES / "ferry-bass.toml"
# What an edit takes out goes with its remarks, and a part with those beside its old figures.
TAKING = ("take-out", "loop-away", "part", "instrument", "destination", "cable-part", "scene-out")


def comments(text: str) -> Counter[str]:
    """Return the remarks of a text that have lines of their own."""
    return Counter(line.strip() for line in text.splitlines() if line.lstrip().startswith("#"))


def told(text: str, path: Path = BASS) -> Any:
    """Return what of a board an edit of its chain may change."""
    board = board_of(text, path)
    return board.listed, board.wiring, dict(board.cables), dict(board.scenes)


def try_one(text: str, given: dict[str, Any], path: Path) -> str:
    """Make an edit, or see that it is refused in words; return the text then."""
    before = board_of(text, path)
    try:
        made = edited(text, given, path, "")
    except SigsimError:
        return text
    assert made.words, given
    assert "\n" not in made.words
    assert made.text.endswith("\n") == text.endswith("\n")
    if given["do"] not in TAKING:
        assert comments(text) <= comments(made.text), given
    same = twin(before, given)
    if same is not None:
        parts = (same.listed, same.wiring, dict(same.cables), dict(same.scenes))
        assert told(made.text, path) == parts, given
    return made.text


def twin(board: Board, given: dict[str, Any]) -> Board | None:
    """Return the board after the same change made by `board.edit`, None where that has none."""
    if board.has_layout:
        return None
    place = tuple(given.get("at", {}).get("place", ()))
    gap = tuple(given.get("gap", {}).get("place", ()))
    match given["do"]:
        case "length" if place:
            length = parse(given["length"], "length").value
            return edit.with_values(board, place, {"length": length}, {})
        case "all-lengths" if board.wiring is not None:
            length = parse(given["length"], "length").value
            return replace(board, wiring=replace(board.wiring, length=length))
        case "insert" if "kind" not in given:
            box = stage_of(given["part"], new_name(board, given["part"]), board.library)
            return edit.inserted(board, gap, box)
        case "take-out":
            return edit.taken_out(board, place)
        case "rename":
            key = edit.item_at(board, place).key
            return edit.with_values(board, place, {key: given["name"]}, {})
        case "move":
            return moved(board, place, given["by"])
    return None


def moved(board: Board, place: edit.Place, by: int) -> Board:
    items = edit.siblings(board, place)
    boxes = [i for i, item in enumerate(items) if not isinstance(item, Cable | Tap | Split)]
    order = list(range(len(boxes)))
    order.insert(boxes.index(place[-1]) + by, order.pop(boxes.index(place[-1])))
    return reorder.reordered(board, place[:-1], order)


@pytest.mark.parametrize("path", some(sorted(EXAMPLES.glob("*.toml")), 3), ids=lambda p: p.stem)
@pytest.mark.parametrize("ends", ["\n", "\r\n"], ids=["lf", "crlf"])
def test_a_hundred_random_edits_keep_remarks_and_line_ends(path: Path, ends: str) -> None:
    draw = random.Random(f"{path.stem}{ends!r}")
    text = path.read_text(encoding="utf-8").rstrip("\n").replace("\n", ends)
    for _ in range(tries(8, 100)):
        given = Chance(draw, board_of(text, path)).edit()
        if given is not None:
            text = try_one(text, given, path)
    bare = re.search(r"(?<!\r)\n", text)
    assert (bare is None) == (ends == "\r\n" or "\n" not in text)
    assert not text.endswith("\n")


@seed(1)
@settings(max_examples=tries(12, 200), deadline=None)
@given(boards(), st.integers(0, 10**6))
def test_random_boards_are_what_the_same_change_of_the_board_makes(table: Any, chance: int) -> None:
    text, draw = to_toml(table, chance), random.Random(chance)
    for _ in range(tries(3, 6)):
        given = Chance(draw, board_of(text, BASS)).edit()
        if given is not None:
            text = try_one(text, given, BASS)


@pytest.mark.parametrize("word", sorted(set(WORDS)))
def test_each_word_can_be_done(word: str) -> None:
    path = EXAMPLES / "ferry-guitar-big.toml"
    text = path.read_text(encoding="utf-8")
    chance = Chance(random.Random(4), board_of(text, path))
    for _ in range(40):
        given = chance.edit(word)
        assert given is not None or word in ("tap", "split")
        try:
            assert edited(text, given or {"do": "title", "name": "x"}, path).words
            return
        except SigsimError:
            continue
    pytest.fail("never done")


NONSENSE: tuple[Any, ...] = (
    None, True, 7, -1, 1e308, "", " ", "\ud800", "x" * 5000, [], [[]], {}, {"place": []},
    {"place": [99]}, {"place": [True]}, {"place": [0, 0, 0]}, {"place": [-1]}, {"place": "0"},
    {"wiring": [0]}, {"wiring": [99]}, {"cables": {}}, {"cables": "none"}, {"instrument": True},
    {"place": [2], "lead": "out"}, {"place": [2], "end": True}, {"instrument": 1, "pickup": 5},
    ["\ud800"], {"\x00": "\n"}, {"bypass": ["buffered"]}, {"stage": ""}, {"inside": "x"},
)  # fmt: skip


@pytest.mark.parametrize("do", sorted(EDITS))
def test_nonsense_is_refused_in_words(do: str) -> None:
    text = BASS.read_text(encoding="utf-8")
    draw = random.Random(do)
    keys = (
        "at",
        "gap",
        "length",
        "part",
        "name",
        "by",
        "on",
        "keys",
        "text",
        "to",
        "kind",
        "cable",
    )
    for _ in range(tries(15, 300)):
        given = {key: draw.choice(NONSENSE) for key in keys if draw.random() < 0.8}
        try:
            made = edited(text, {"do": do, **given}, BASS)
        except SigsimError:
            continue
        else:
            board_of(made.text, BASS)
            assert "\n" not in made.words


@pytest.mark.parametrize("key", ["inside", "before", "after", "board", "destination", "loop"])
@pytest.mark.parametrize("value", [True, 3, 10**400, float("nan"), "7", "[[1]]", "[{a = 1}]"])
def test_values_of_no_kind_are_refused_in_words(key: str, value: Any) -> None:
    path = EXAMPLES / "ferry-bass-two-amps.toml"
    text = path.read_text(encoding="utf-8")
    for place, _ in edit.places(board_of(text, path)):
        with suppress(SigsimError):
            given = {"do": "set", "at": {"place": list(place)}, "keys": {key: value}}
            board_of(edited(text, given, path).text, path)


SCENES = """
[scenes]
"loud" = ["fuzz",   "other"]  # both
"lines" = [
  # the dirty one
  "fuzz",  # first
  "other", # last
]
"none" = [
  # nothing yet
]
"""


@pytest.mark.parametrize(
    "given",
    [{"do": "loop-around", "at": {"place": [0]}, "name": "in it"},
     {"do": "rename", "at": {"place": [0]}, "name": "louder"},
     {"do": "scene", "name": "lines", "on": ["far", "other", "fuzz"]},
     {"do": "scene", "name": "none", "on": ["far"]}],
    ids=["loop", "rename", "more", "first"],
)  # fmt: skip
def test_remarks_inside_the_lists_of_scenes_stay(given: dict[str, Any]) -> None:
    stage = '[[chain]]\nstage = "other"\npart = "pedal-true-bypass"\n'
    text = SMALL[: SMALL.index("[variants")] + stage + SCENES
    made = edited(text, given, BASS).text
    assert re.findall("#.*", made) == re.findall("#.*", text)
    assert re.sub(r"[\s,]", "", made) != re.sub(r"[\s,]", "", text)
    for name in ("loud", "lines", "none"):
        scenes = board_of(text, BASS).scenes, board_of(made, BASS).scenes
        if given.get("name") == name:
            assert set(scenes[1][name]) == set(given["on"])
        elif given["do"] == "scene":
            assert scenes[0][name] == scenes[1][name]


@pytest.mark.parametrize("end", ["", "\n", "\n\n", "\r\n"])
def test_the_last_line_ends_as_it_did_also_where_the_last_thing_goes(end: str) -> None:
    text = SMALL[: SMALL.index("[variants")].rstrip() + end
    text = text.replace("\n[[chain]]", "\n\n[[chain]]").replace("\r", "").replace("\n", end or "\n")
    made = edited(text, {"do": "take-out", "at": {"place": [1]}}, BASS).text
    assert "side" not in made
    assert made.endswith("\n") == bool(end)
    typed = edited(text, {"do": "text", "text": f"{text}# more\n"}, BASS).text
    assert typed == f"{text}# more\n"


@pytest.mark.parametrize("given", [{}, {"do": None}, {"do": "lenght"}, {"do": ["length"]}])
def test_there_is_no_such_edit(given: dict[str, Any]) -> None:
    with pytest.raises(SigsimError, match="no such edit"):
        edited(BASS.read_text(encoding="utf-8"), given, BASS)


@pytest.mark.parametrize(
    ("first", "typed", "written"),
    [
        ("15 ft", "18", "18 ft"),
        ("9 m", "6.5", "6.5 m"),
        ("30 cm", "25", "25 cm"),
        ("9 m", "7 ft", "7 ft"),
    ],
)
def test_a_plain_number_has_the_unit_of_the_length_before(
    first: str, typed: str, written: str
) -> None:
    text = BASS.read_text(encoding="utf-8")
    at = {"place": [9]}
    text = edited(text, {"do": "length", "at": at, "length": first}, BASS).text
    made = edited(text, {"do": "length", "at": at, "length": typed}, BASS)
    assert made.words == f"cable to amp {first} → {written}"
    assert f'length = "{written}"' in made.text


@pytest.mark.parametrize(
    "given",
    [{"do": "scene", "name": "loud", "on": ["far"]}, {"do": "variant-new", "name": "loud"},
     {"do": "all-lengths", "length": "2 m", "name": "lead"}],
    ids=["scene", "variant-new", "all-lengths"],
)  # fmt: skip
def test_a_table_at_the_end_of_a_file_ends_its_lines_as_the_file_does(
    given: dict[str, Any],
) -> None:
    lead = '[cables.lead]\npart = "cable-standard"\n'
    for text in (SMALL, SMALL + lead):
        text = text.replace("\n", "\r\n")
        with suppress(SigsimError):
            made = edited(text, given, BASS).text
            assert "\n" not in made.replace("\r\n", "")


def test_a_length_changes_one_line_and_no_other() -> None:
    text = BASS.read_text(encoding="utf-8").replace('length = "9 m"', "length='9 m'  # to the amp")
    made = edited(text, {"do": "length", "at": {"place": [9]}, "length": "6 m"}, BASS)
    pairs = zip(text.splitlines(), made.text.splitlines(), strict=True)
    assert [new for old, new in pairs if old != new] == ['length="6 m"  # to the amp']


@pytest.mark.parametrize("name", ["a\nb", "\x1b[31m", "\u202eback", "", " ", "\ud800"])
def test_names_that_are_none_are_refused(name: str) -> None:
    text = BASS.read_text(encoding="utf-8")
    for wrong in (
        {"do": "rename", "at": {"place": [2]}, "name": name},
        {"do": "scene", "name": name, "on": []},
        {"do": "scene-name", "name": "storm", "to": name},
        {"do": "variant-new", "name": name},
        {"do": "set", "at": {"place": [2]}, "keys": {"stage": name}},
    ):
        with pytest.raises(SigsimError):
            edited(text, wrong, BASS)


def test_words_for_undo_are_short_and_one_line() -> None:
    text = BASS.read_text(encoding="utf-8")
    made = edited(text, {"do": "scene", "name": "x" * 3000, "on": []}, BASS)
    assert len(made.words) <= 120


def test_a_buffered_bypass_silences_what_its_bare_contact_did() -> None:
    text = BASS.read_text(encoding="utf-8")
    at = {"place": [2]}
    text = edited(text, {"do": "set", "at": at, "keys": {"contact_resistance": "1 Ω"}}, BASS).text
    made = edited(text, {"do": "set", "at": at, "keys": {"bypass": "buffered"}}, BASS)
    assert "contact_resistance" not in made.text
    item: Any = edit.item_at(board_of(made.text, BASS), (2,))
    assert item.bypass == "buffered"


@pytest.mark.parametrize("ends", ["\n", "\r\n"], ids=["lf", "crlf"])
def test_undo_of_random_edits_gives_the_text_back_and_redo_does_them_again(ends: str) -> None:
    path = EXAMPLES / "ferry-bass-two-amps.toml"
    first = path.read_text(encoding="utf-8").rstrip("\n").replace("\n", ends)
    document, draw = Document(path, first, first), random.Random(ends)
    for _ in range(100 if ends == "\n" else tries(10, 100)):
        given = Chance(draw, board_of(document.text, path)).edit()
        if given is not None:
            with suppress(SigsimError):
                document.do(*astuple(edited(document.text, given, path)))
    last = document.text
    assert last.startswith(first.partition("title")[0])
    while document.undo_words is not None:
        document.undo()
    assert document.text == first
    while document.redo_words is not None:
        document.redo()
    assert document.text == last


def test_a_board_is_read_by_several_threads_at_once() -> None:
    text = BASS.read_text(encoding="utf-8")

    def read(number: int) -> int:
        return len(board_of(f"{text}# {number % 40}\n", BASS).listed)

    with ThreadPoolExecutor(8) as threads:
        assert set(threads.map(read, range(tries(80, 800)))) == {10}
