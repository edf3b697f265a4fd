"""The same thing is said in the same words, and only where it says something."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from helpers.in_process import sigsim_here

from sigsim.board.reader import parse_board
from sigsim.show.names import told_apart

# A bass of which a box that is never off takes level and treble; all else isolates.
ENDS = """title = "{title}"
[instrument]
part = "{instrument}"
[destination]
part = "{amp}"
[cables.lead]
part = "cable-standard"
"""
LEAD = '[[chain]]\ncable = "lead"\nlength = "{}"\n'


def _stage(name: str, part: str, more: str = "") -> str:
    return f'[[chain]]\nstage = "{name}"\npart = "{part}"\n{more}'


@pytest.fixture
def board(tmp_path: Path) -> Path:
    return tmp_path / "board.toml"


def _written(path: Path, *chain: str, **ends: str) -> Path:
    given = {"title": "Quay", "instrument": "guitar-two-coil", "amp": "line-input"} | ends
    path.write_text(ENDS.format(**given) + "".join(chain), encoding="utf-8")
    return path


def _loaded(path: Path) -> Path:
    """Return a board whose all-off state is softer than its reference, and brighter."""
    return _written(
        path,
        LEAD.format("20 ft"),
        _stage("old one", "vintage-hardwire"),
        LEAD.format("1 ft"),
        _stage("weak", "pedal-buffered", 'output_resistance = "10 kΩ"\nbypass_gain = 0\n'),
        LEAD.format("20 ft"),
    )


def _said(*arguments: object) -> str:
    return " ".join(sigsim_here(*arguments).out.split())


def test_blame_says_a_change_of_level_as_loss_does(board: Path) -> None:
    _loaded(board)
    level = json.loads(sigsim_here("blame", board, "--all-off", "--json").out)
    assert level["state"]["level_change_db"] <= -1.0
    level_said = "; all of it is 1.5 dB softer"
    for command in ("loss", "blame"):
        assert level_said in _said(command, board, "--all-off")
    assert "dB of treble are gained (brighter) against" in _said("blame", board, "--all-off")


def test_spread_names_what_is_on_as_loss_does(board: Path) -> None:
    _loaded(board)
    for command in ("loss", "spread"):
        assert "'old one' and 'weak' on: " in _said(command, board, "--on", "old one,weak")


def test_one_combination_is_one_and_equal_ones_are_all(board: Path) -> None:
    _written(board, LEAD.format("30 ft"), amp="solid-state-amplifier-input")
    one = "The one combination loses 0.0 dB of treble (negligible)."
    assert _said("states", board).startswith(one)
    boxes = [_stage(f"box {i}", "pedal-buffered") + LEAD.format("1 ft") for i in range(3)]
    ends = {"instrument": "bass-active", "amp": "active-di"}
    _written(board, LEAD.format("3 m"), *boxes, **ends)
    assert _said("states", board).startswith("All combinations lose 0.0 dB of treble (negligible).")
    assert "any other wiring, changes nothing." in _said("buffer", board)


def test_one_switch_is_called_by_its_name(board: Path) -> None:
    _written(board, LEAD.format("10 ft"), _stage("only", "pedal-true-bypass"), LEAD.format("9 ft"))
    said = _said("states", board)
    assert "1 only" in said or "2 only" in said
    assert "everything" not in said


def test_silence_has_no_numbers(board: Path) -> None:
    _written(board, LEAD.format("10 ft"), _stage("only", "pedal-true-bypass"), LEAD.format("9 ft"))
    board.write_text(
        board.read_text(encoding="utf-8").replace("[destination]", "volume = 0\n[destination]"),
        encoding="utf-8",
    )
    for command in ("states", "cables"):
        assert "- dB" not in _said(command, board)


def test_a_row_of_buffer_says_itself_for_how_many_it_stands(board: Path) -> None:
    pedals = [_stage(f"box {i}", "pedal-true-bypass") + LEAD.format("1 cm") for i in range(3)]
    ends = {"instrument": "bass-split-coil", "amp": "solid-state-amplifier-input"}
    _written(board, LEAD.format("5 m"), *pedals, LEAD.format("9 m"), **ends)
    lines = sigsim_here("buffer", board).out.splitlines()
    assert "more within 0.1 dB" in " ".join(" ".join(lines).split())
    # Each row that has a number of a place has the place's name and its loss as well.
    rows = [line.split() for line in lines if line[:3].strip().isdigit()]
    assert rows
    assert all(row[1] != "and" for row in rows)


@pytest.mark.parametrize("name", ["states", "blame", "crosscheck"])
def test_explanations_use_the_players_words(board: Path, name: str) -> None:
    _loaded(board)
    options = ["--states", "0"] if name == "crosscheck" else ["--explain"]
    words = _said(name, board, *options).replace("'", " ").replace(",", " ").split()
    assert not {"state", "states", "State", "tap", "destination", "stage"} & set(words)


def test_titles_that_begin_alike_are_shortened_in_their_middle() -> None:
    start = "Loft: the guitar with two pickups and its long lines, "
    titles = [f"{start}spring", f"{start}autumn", f"{start}autumn"]
    text = ENDS + LEAD.format("3 m")
    boards = [
        parse_board(
            text.format(title=title, instrument="bass-active", amp="active-di"), f"{i}.toml"
        )
        for i, title in enumerate(titles)
    ]
    names = told_apart(boards, 40)
    assert names[0].endswith("spring")
    assert len(set(names)) == 3
    assert names[1:] == ["1.toml", "2.toml"]
