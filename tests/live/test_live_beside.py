"""What the page asks beside edits: parts, one thing from nearby, panels, a new board, a sound."""

from __future__ import annotations

import io
import wave
from typing import Any

import numpy as np
import pytest
from helpers.program import EXAMPLES

from sigsim.board.parts import library
from sigsim.board.reader import parse_board
from sigsim.errors import SigsimError
from sigsim.live.boards import board_of
from sigsim.live.edits import edited
from sigsim.live.questions import PANELS, details, listen, new_board, panel, parts_list, sheet

BASS = EXAMPLES / "ferry-bass.toml"
TEXT = BASS.read_text(encoding="utf-8")
NONSENSE: tuple[Any, ...] = (
    None, 3, "", [], {}, {"place": [99]}, {"place": "x"}, {"place": [0, 0]}, {"cables": {}},
    {"cables": "none"}, {"instrument": True, "pickup": 9}, {"wiring": "x", "place": None, "x": 1},
)  # fmt: skip


def test_every_part_is_offered_with_the_words_of_players() -> None:
    offered = {part["part"]: part for part in parts_list(TEXT, BASS)}
    assert offered.keys() == library().keys()
    assert offered["buffer-opamp"]["isolates"]
    assert not offered["fuzz-low-impedance"]["isolates"]
    assert all(part["summary"] for part in offered.values())
    assert parts_list("", BASS) == parts_list("no toml [", BASS)


def test_details_put_the_knobs_first_and_name_every_source() -> None:
    board = board_of(TEXT, BASS)
    instrument = details(board, {"instrument": True})
    kinds = [field["kind"] for field in instrument["fields"]]
    assert kinds[0] == "knob"
    assert kinds == sorted(kinds, key=["knob", "choice", "switch"].index)
    fuzz = details(board, {"place": [2]})
    assert fuzz["offers"] == ["loop-around"]
    for found in (instrument, fuzz, details(board, {"cables": "lead"})):
        assert all(figure["source"] and figure["value"] for figure in found["figures"])
    assert details(board, {"place": [9]})["cables"] == ["lead", "patch"]


def test_what_is_offered_can_be_set() -> None:
    board = board_of(TEXT, BASS)
    for at in ({"place": [2]}, {"instrument": True}):
        for field in details(board, at)["fields"]:
            value = {"knob": "5", "switch": True}.get(field["kind"]) or field["choices"][-1][
                "value"
            ]
            made = edited(TEXT, {"do": "set", "at": at, "keys": {field["key"]: value}}, BASS)
            after = details(board_of(made.text, BASS), at)
            assert value in [one["value"] for one in after["fields"] if one["key"] == field["key"]]


@pytest.mark.parametrize("at", NONSENSE)
def test_details_of_nothing_are_refused(at: Any) -> None:
    board = board_of(TEXT, BASS)
    if isinstance(at, dict) and "wiring" in at:
        assert details(board, at)["figures"]
        return
    with pytest.raises(SigsimError):
        details(board, at)


@pytest.mark.parametrize("name", sorted({*PANELS} - {"cables", "buffer", "blame"}))
def test_panels_say_what_the_commands_say(name: str) -> None:
    floor = EXAMPLES / "ferry-floor.toml"
    for path in (BASS, floor):
        made = panel(board_of(path.read_text(encoding="utf-8"), path), name)
        assert made["blocks"]
        assert made["title"]


def test_there_is_no_such_panel() -> None:
    with pytest.raises(SigsimError, match="no such panel"):
        panel(board_of(TEXT, BASS), "../loss")


def test_the_sheet_is_a_page_of_its_own() -> None:
    assert "<html" in sheet(board_of(TEXT, BASS))


def test_a_new_board_has_what_was_asked_for() -> None:
    pedals = [
        {"name": "", "part": "fuzz-low-impedance"},
        {"name": "", "part": "fuzz-low-impedance"},
        {"name": 'wah "x"', "part": ""},
        {"name": "", "part": ""},
    ]
    answers = {"instrument": "bass-split-coil", "destination": "", "pedals": pedals}
    text = new_board({**answers, "lead": "15 ft", "toAmp": "9 m"})
    board = parse_board(text, "new")
    assert board.switches() == ("fuzz", "fuzz 2", 'wah "x"', "pedal 4")
    assert "15 ft" in text
    assert [item.part for item in board.listed][1] == "fuzz-low-impedance"
    assert parse_board(new_board({}), "new").switches() == ()


@pytest.mark.parametrize(
    "answers",
    [
        {"instrument": "nothing"},
        {"instrument": 3},
        {"lead": "far"},
        {"pedals": 3},
        {"pedals": [3]},
        {"pedals": [{"name": "a\x00b"}]},
        {"pedals": [{"name": 3}]},
        {"pedals": [{"part": "cable-low"}]},
        {"pedals": [{}] * 61},
        {"title": "a\nb"},
    ],
)
def test_nonsense_makes_no_board(answers: dict[str, Any]) -> None:
    with pytest.raises(SigsimError):
        new_board(answers)


def heard(raw: bytes) -> Any:
    with wave.open(io.BytesIO(raw)) as file:
        assert file.getsampwidth() == 3
        data = np.frombuffer(file.readframes(file.getnframes()), np.uint8).reshape(-1, 3)
    whole = data[:, 0].astype(np.int32) | data[:, 1].astype(np.int32) << 8
    return (whole | data[:, 2].astype(np.int8).astype(np.int32) << 16) / 2**23


def test_now_and_saved_are_equally_loud_and_begin_quietly() -> None:
    saved = board_of(TEXT, BASS)
    gap = {"do": "insert", "gap": {"place": [3]}, "part": "buffer-opamp"}
    now = board_of(edited(TEXT, gap, BASS).text, BASS)
    sounds = {which: heard(listen(now, saved, [], None, which)) for which in ("now", "saved")}
    rate = 48_000
    power = {w: np.sqrt(np.mean(sound[2 * rate :] ** 2)) for w, sound in sounds.items()}
    # Equal in the whole; behind the quiet beginning the notes differ in timbre by a little.
    assert power["now"] == pytest.approx(power["saved"], rel=0.05)
    for sound in sounds.values():
        assert np.abs(sound[: rate // 10]).max() < 0.05
        assert np.abs(sound).max() <= 0.5 + 1e-6
    assert np.abs(sounds["now"] - sounds["saved"]).max() > 0.01
    with pytest.raises(SigsimError):
        listen(now, saved, [], None, "then")
