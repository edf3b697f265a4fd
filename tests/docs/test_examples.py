"""The example boards: they read cleanly, differ, and show what their comments say."""

from __future__ import annotations

import shlex
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from sigsim.board.model import Board
from sigsim.board.reader import parse_board, read_board
from sigsim.board.state import ALL_OFF
from sigsim.cli.main import COMMANDS, cli
from sigsim.decide.loss.report import LossReport, loss_report
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.items.tap import Tap

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / "examples"
EXAMPLES = sorted(FOLDER.glob("*.toml"))
DEMO = ROOT / "sigsim" / "board" / "demo.toml"
README = (FOLDER / "README.md").read_text(encoding="utf-8")


def text(name: str) -> str:
    return (FOLDER / f"{name}.toml").read_text(encoding="utf-8")


def changed(name: str, before: str, after: str) -> Board:
    """Return an example with the last place that says `before` changed."""
    head, found, tail = text(name).rpartition(before)
    assert found
    return parse_board(head + after + tail)


def report(board: Board) -> LossReport:
    return loss_report(board, board.named_states())


def losses(board: Board) -> dict[str, float]:
    """Return the treble loss of every stage off, each scene and the worst state."""
    found = report(board)
    by_name = {state.state.name: state.treble_loss for state in found.states}
    return by_name | {"worst": found.worst.treble_loss}


def test_there_are_enough() -> None:
    assert len(EXAMPLES) >= 5


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_example_is_whole(path: Path) -> None:
    """It reads without a warning, has scenes, says that it is invented, and its worst is found."""
    board = read_board(path)
    assert not board.warnings
    assert 2 <= len(board.scenes) <= 4
    assert "Invented" in path.read_text(encoding="utf-8").splitlines()[0]
    found = report(board)
    assert found.proven
    assert set(found.worst.state.on) <= set(board.switches())


def test_titles_differ() -> None:
    titles = {read_board(path).title for path in EXAMPLES}
    assert len(titles) == len(EXAMPLES)


def test_demo_is_the_teaching_board() -> None:
    assert DEMO.read_bytes() == (FOLDER / "ferry-bass.toml").read_bytes()


def test_the_examples_use_every_kind_of_item() -> None:
    boards = [read_board(path) for path in EXAMPLES]
    items = [item for board in boards for item in board.items()]
    assert any(isinstance(item, Tap) and item.open for item in items)
    assert any(isinstance(i, Loop) and any(isinstance(j, Loop) for j in i.inside) for i in items)
    assert {stage.bypass for b in boards for stage in b.powered()} == {
        "true", "buffered", "hardwire",
    }  # fmt: skip
    assert any(isinstance(item, Split) for item in items)
    assert max(len(list(b.items())) for b in boards) >= 14


def test_teaching_board_loses_several_decibels() -> None:
    board = read_board(FOLDER / "ferry-bass.toml")
    found = losses(board)
    assert 6 < found[ALL_OFF] < 12
    assert found["worst"] == found[ALL_OFF]
    assert found["last dance"] < found[ALL_OFF] / 2
    assert found["storm"] < 1
    assert losses(changed("ferry-bass", '"9 m"', '"4.5 m"'))[ALL_OFF] < found[ALL_OFF] - 1
    assert losses(changed("ferry-bass", "tone = 10", "tone = 3"))[ALL_OFF] < 2


def test_buffer_cures_it() -> None:
    before = losses(read_board(FOLDER / "ferry-bass.toml"))
    board = read_board(FOLDER / "ferry-bass-buffered.toml")
    after = losses(board)
    assert after[ALL_OFF] < before[ALL_OFF] - 6
    assert after["last dance"] == pytest.approx(after[ALL_OFF], abs=0.1)
    assert report(board).worst.state.on == ("engine room",)
    longer = losses(changed("ferry-bass-buffered", '"9 m"', '"30 m"'))
    assert longer[ALL_OFF] == pytest.approx(after[ALL_OFF], abs=0.1)
    assert longer["worst"] > after["worst"] + 1


def test_a_buffered_tuner_before_the_fuzz_lets_its_treble_through() -> None:
    data = tomllib.loads(text("ferry-bass-buffered"))
    names = [item.get("stage") for item in data["chain"]]
    assert names.index("lifeboat buffer") == names.index("bilge fuzz") + 1
    buffer = '[[chain]]\nstage = "lifeboat buffer"\npart = "buffer-jfet"\n'
    changed_text = text("ferry-bass-buffered").replace(buffer, "")
    harsh = parse_board(changed_text.replace('"tuner-true-bypass"', '"tuner-buffered"'))
    assert losses(harsh)["storm"] < -6


def test_big_board_is_worst_where_nobody_plays() -> None:
    board = read_board(FOLDER / "ferry-guitar-big.toml")
    found = report(board)
    assert len([i for i in board.items() if hasattr(i, "stage")]) == 14
    assert "rough" in found.worst.state.on
    assert not {"foghorn wah", "haze", "gravel", "steam"} & set(found.worst.state.on)
    assert found.worst.treble_loss > max(s.treble_loss for s in found.states) + 1
    assert losses(board)[ALL_OFF] < 0
    plain = 'part = "compressor-buffered"'
    unbuffered = changed("ferry-guitar-big", plain, plain + '\nbypass = "true"')
    assert losses(unbuffered)[ALL_OFF] > 4
    half = changed("ferry-guitar-big", "position = 10", "position = 7")
    assert losses(half)[ALL_OFF] > 4


def test_far_board_hardly_matters_behind_the_compressor() -> None:
    name = "ferry-guitar-two-boards"
    found = losses(read_board(FOLDER / f"{name}.toml"))
    assert found["far deck only"] == pytest.approx(found["embarkation"], abs=0.3)
    plain = 'part = "compressor-buffered"'
    unbuffered = losses(changed(name, plain, plain + '\nbypass = "true"'))
    assert unbuffered["far deck only"] > found["far deck only"] + 5
    big = read_board(FOLDER / "ferry-guitar-big.toml")
    assert {s.stage for s in big.powered()} == {
        s.stage for s in read_board(FOLDER / f"{name}.toml").powered()
    }


def test_old_boxes_take_level_and_the_open_cable_takes_treble() -> None:
    name = "ferry-guitar-vintage"
    found = report(read_board(FOLDER / f"{name}.toml"))
    assert found.states[0].level_change < -0.3
    before, after = text(name).split("[[chain]]\ntap =")
    without = parse_board(before + "[[chain]]" + after.split("[[chain]]", 1)[1])
    assert losses(without)[ALL_OFF] < found.states[0].treble_loss - 0.3


def test_reel_matters_only_behind_the_drive() -> None:
    found = losses(read_board(FOLDER / "ferry-bass-active.toml"))
    assert found["front row"] < 0.1
    assert found["desk by the reel"] < 1
    assert found["drive by the reel"] > 4


def test_the_other_deck_takes_treble_from_this_one() -> None:
    name = "ferry-bass-two-amps"
    board = read_board(FOLDER / f"{name}.toml")
    found, upstairs = losses(board), losses(board.heard_at("upper deck"))
    assert found["echo upstairs"] < found[ALL_OFF] - 3
    assert upstairs[ALL_OFF] > 6
    alone = replace(board, listed=tuple(i for i in board.listed if not isinstance(i, Split)))
    assert report(replace(alone, scenes={})).worst.treble_loss < found[ALL_OFF] - 3
    end = '{ part = "valve-amplifier-input", name = "upper deck amp" }'
    assert losses(changed(name, end, "{}"))[ALL_OFF] > found[ALL_OFF] - 2
    preamp = 'part = "preamp-pedal"'
    steady = losses(changed(name, preamp, preamp + "\nalways_on = true"))
    assert steady["worst"] < 4


def test_every_example_is_listed() -> None:
    for path in EXAMPLES:
        assert README.count(f"[{path.name}]({path.name})") == 1


def commands() -> list[str]:
    """Return the commands of examples/README.md and of the comments in the boards."""
    texts = [README, *(path.read_text(encoding="utf-8") for path in EXAMPLES)]
    lines = [line.lstrip("# ").split("   ")[0] for t in texts for line in t.splitlines()]
    return sorted({line.strip() for line in lines if line.startswith("sigsim ")})


@pytest.mark.parametrize("line", commands())
def test_commands_of_the_examples_run(
    line: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for path in EXAMPLES:
        (tmp_path / path.name).write_bytes(path.read_bytes())
    monkeypatch.chdir(tmp_path)
    words = shlex.split(line)[1:]
    assert words[0] in COMMANDS
    if words[0] == "new":
        words.append("--yes")
    result = CliRunner().invoke(cli, words, catch_exceptions=False)
    assert result.exit_code == 0
    assert result.output.strip()
