"""What all commands say alike: a length as its file has it, a state by its one name, a warning."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from helpers.in_process import sigsim_here
from helpers.program import EXAMPLES
from helpers.refusals import ENDS, STAGE

BASS = EXAMPLES / "ferry-bass.toml"
FEET = (
    ENDS
    + """
[cables.patch]
capacitance = "110 pF/m"
[wiring]
cable = "patch"
length = "8 in"
[[chain]]
cable = "lead"
length = "15 ft"
"""
    + STAGE
    + STAGE.replace("fuzz", "box")
    + """
[[chain]]
cable = "lead"
length = "6m"
"""
)


@pytest.fixture
def feet(tmp_path: Path) -> Path:
    path = tmp_path / "feet.toml"
    path.write_text(FEET, encoding="utf-8")
    return path


@pytest.mark.parametrize("name", ["check", "sheet", "cables"])
def test_a_length_stays_as_it_was_written(feet: Path, name: str) -> None:
    run = sigsim_here(name, feet)
    assert run.status == 0
    for written in ("15 ft", "8 in", "6 m"):
        assert written in run.out
    for converted in ("4.572", "20.3 cm"):
        assert converted not in run.out


def test_a_length_stays_as_it_was_written_on_the_page(feet: Path, tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    assert sigsim_here("report", feet, "-o", page).status == 0
    data = page.read_text(encoding="utf-8").split('<script type="application/json"')[1]
    assert '"lengthText":"15 ft"' in data
    # To draw it to scale the page has it in metres too; no words have.
    assert data.count("4.572") == data.count('"length":4.572') > 0


def test_a_place_behind_a_cable_has_the_length_of_the_file(feet: Path) -> None:
    # Behind the last cable there is no place: one more stage makes one.
    behind = FEET + STAGE.replace("fuzz", "end")
    feet.write_text(behind, encoding="utf-8")
    assert "the 6 m cable" in sigsim_here("buffer", feet, "--every").out
    feet.write_text(behind.replace("6m", "15 ft"), encoding="utf-8")
    assert "the 15 ft cable" in sigsim_here("buffer", feet, "--every").out


def test_numbers_in_json_are_plain_metres(feet: Path) -> None:
    sheet = json.loads(sigsim_here("sheet", feet, "--json").out)
    assert sheet["connections"][0]["length_m"] == pytest.approx(4.572)


COMMANDS = [
    "check",
    "loss",
    "states",
    "compare",
    "blame",
    "spread",
    "noise",
    "buffer",
    "cables",
    "sheet",
]


@pytest.mark.parametrize("name", COMMANDS)
def test_the_state_with_all_off_has_one_name_for_a_reader(name: str) -> None:
    boards = [BASS, EXAMPLES / "ferry-bass-buffered.toml"] if name == "compare" else [BASS]
    said = " ".join(sigsim_here(name, *boards).out.split())
    assert "every stage off" not in said
    assert "everything off" not in said
    assert "everything is off" not in said


def test_the_state_with_all_off_keeps_its_name_in_json() -> None:
    found = json.loads(sigsim_here("loss", BASS, "--json").out)
    assert found["states"][0]["name"] == "every stage off"
    assert "all off" not in json.dumps(found)


def test_a_warning_of_a_board_laid_over_the_page_is_said(tmp_path: Path) -> None:
    other = tmp_path / "other.toml"
    text = BASS.read_text(encoding="utf-8").replace(
        'part = "cable-patch"', 'part = "cable-patch"\ncapacitance = "2 nF/m"'
    )
    other.write_text(text, encoding="utf-8")
    run = sigsim_here("report", BASS, "--compare", other, "-o", tmp_path / "page.html")
    assert run.status == 0
    assert run.err.startswith(f"warning: {other}: [cables.patch], capacitance")
