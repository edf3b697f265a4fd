"""What `sigsim sweep`, `measure` and `verify` say to slips of those who use them.

What is asked for and printed is what reference/manual/measuring.md says of the commands.
"""

from __future__ import annotations

import os
import shlex
import subprocess
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import soundfile
from helpers.in_process import sigsim_here
from helpers.program import sigsim
from helpers.results import measured_cable

from sigsim.board.reader import parse_board
from sigsim.cli.measured_table import target
from sigsim.cli.measuring import across
from sigsim.cli.unwritable import check_bypass
from sigsim.cli.writing import write_measured
from sigsim.errors import SigsimError
from sigsim.measure.result import Figure, Measured
from sigsim.show.commands import command_lines, word
from sigsim.show.figures import bounds, figure_text, within_db
from sigsim.show.measure import sentence
from sigsim.show.measured_toml import toml

BOARD = """\
[instrument]
part = "guitar-two-coil"
[destination]
input_resistance = "1 MΩ"
[cables.lead]
capacitance = "100 pF/m"
[cables.patch]
capacitance = "130 pF/m"
[[chain]]
cable = "lead"
length = "5 m"
[[chain]]
stage = "wah"
input_resistance = "500 kΩ"
output_resistance = "1 kΩ"
"""
CABLE = ("measure", "cable", "--loop", "l.wav", "--before", "b.wav", "--with", "w.wav")
WRITE = ("--write", "board.toml", "--as")


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    Path("board.toml").write_text(BOARD, encoding="utf-8")
    for name in "lbw":
        # Of no use, so that nothing is said of them but where they are heard.
        soundfile.write(f"{name}.wav", [0.0] * 4800, 48_000, subtype="PCM_16")
    return tmp_path


def refused(*words: str) -> str:
    run = sigsim_here(*words)
    assert run.status == 2, run.out
    assert not run.out
    assert "Usage:" not in run.err
    assert Path("board.toml").read_text(encoding="utf-8") == BOARD
    return run.err


# What is written


def test_a_cable_is_written_by_the_metre_or_not_at_all() -> None:
    said = refused(*CABLE, *WRITE, "lead")
    assert '--length "6 m"' in said
    assert "l.wav" not in said, "it is said before anything is heard"


@pytest.mark.parametrize(("name", "near"), [("pacth", "patch"), ("Lead", "lead"), ("leed", "lead")])
def test_a_name_that_is_nearly_there_is_asked_about(name: str, near: str) -> None:
    said = refused(*CABLE, "--length", "6 m", *WRITE, name)
    assert f'did you mean "{near}"?' in said


@pytest.mark.parametrize("name", ["snake", "lead 2", "patch2"])
def test_a_new_name_is_taken_and_said_to_be_of_no_use_yet(name: str) -> None:
    lines = write_measured(measured_cable(), "board.toml", name)
    assert any(f'Nothing in the chain is made of "{name}" yet' in line for line in lines)
    assert lines[-1] == "Next: sigsim loss board.toml"
    assert name in parse_board(Path("board.toml").read_text(encoding="utf-8")).cables


@pytest.mark.parametrize(("name", "used"), [("lead", True), ("patch", False)])
def test_a_cable_of_which_there_is_no_piece_is_said_to_be_of_no_use_yet(
    name: str, used: bool
) -> None:
    lines = write_measured(measured_cable(), "board.toml", name)
    assert used != any("Nothing in the chain is made of" in line for line in lines)


def test_what_comes_next_is_a_line_of_a_shell() -> None:
    os.rename("board.toml", "my board.toml")
    lines = write_measured(measured_cable(), "my board.toml", "lead")
    assert shlex.split(lines[-1].removeprefix("Next: ")) == ["sigsim", "loss", "my board.toml"]


def test_the_kind_of_bypass_has_to_be_said_before_it_is_written() -> None:
    R, C = Figure(510e3, 500e3, 520e3, "Ω"), Figure(90e-12, 85e-12, 95e-12, "F")
    found = {"bypass_input_resistance": R, "bypass_input_capacitance": C}
    with pytest.raises(SigsimError, match="--bypass hardwire or --bypass buffered"):
        check_bypass(Measured("bypass", {}, found))
    check_bypass(Measured("bypass", {}, {**found, "bypass": Figure("buffered", None, None, "")}))


def test_other_recipes_know_the_nearest_name_too() -> None:
    board = parse_board(BOARD)
    with pytest.raises(SigsimError, match='did you mean "wah"'):
        target(board, {}, "whah", "input")


# Numbers


@pytest.mark.parametrize("text", ["150", "150, 60 pF", "1000", "0.5"])
def test_an_input_of_some_ohms_needs_its_unit(text: str) -> None:
    """An interface's input has 10 kΩ at least (the manual: a line input has some)."""
    with pytest.raises(SigsimError, match="of what"):
        across(text, "--input")


@pytest.mark.parametrize("text", ["1e6", "1M", "150 Ω", "150 pF", "1 MΩ, 150 pF", "0"])
def test_an_input_that_is_clear_is_taken(text: str) -> None:
    if text == "0":
        with pytest.raises(SigsimError, match="0"):
            across(text, "--input")
    else:
        across(text, "--input")


@pytest.mark.parametrize(
    "words",
    [
        ("sweep", "s.wav", "--rate", "44.1"),
        ("sweep", "s.wav", "--rate", "44.1k"),
        ("sweep", "s.wav", "--seconds", "3s"),
        ("sweep", "s.wav", "--repeat", "2.5"),
        ("sweep", "s.wav", "--level", "low"),
        ("verify", "board.toml", "--through", "w.wav", "--limit", "0.5db"),
        ("verify", "board.toml", "--through", "w.wav", "--limit", "nan"),
        ("verify", "board.toml", "--through", "w.wav", "--driven-by", "100"),
    ],
)
def test_an_option_that_is_no_number_says_what_is_accepted(words: Sequence[str]) -> None:
    said = refused(*words)
    assert f"sigsim: {words[-2]}: " in said
    assert "accepted: " in said
    assert not Path("s.wav").exists()


# What is printed


def in_a_shell(lines: Sequence[str]) -> list[str]:
    done = subprocess.run(
        ["sh", "-c", "\n".join(lines)], capture_output=True, encoding="utf-8", check=True
    )
    return done.stdout.splitlines()


def test_the_next_command_is_one_of_a_shell_whatever_the_file_is_called() -> None:
    run = sigsim_here("sweep", "my sweep.wav", "--seconds", "1")
    assert run.status == 0, run.err
    lines = run.out.splitlines()
    first = next(i for i, line in enumerate(lines) if line.startswith("sigsim measure"))
    last = next(i for i in range(first, len(lines)) if not lines[i].endswith("\\"))
    words = in_a_shell(
        [lines[first].replace("sigsim", "printf '%s\\n'", 1), *lines[first + 1 : last + 1]]
    )
    assert words[words.index("--sweep") + 1] == "my sweep.wav"
    assert words[words.index("--resistor") + 1] == "100 kΩ"


@pytest.mark.parametrize("text", ["a.wav", "my sweep.wav", 'a"b.wav', "a$b.wav", "it's.wav", "a`b"])
def test_any_name_is_one_word(text: str) -> None:
    """As the shell of this machine reads it."""
    assert in_a_shell(command_lines("printf '%s\\n'", [word(text)] * 9)) == [text] * 9


def test_a_decoder_says_nothing_by_itself(tmp_path: Path) -> None:
    """Frames of MPEG audio, layer III (ISO/IEC 11172-3: they begin with eleven ones), broken."""
    frame = b"\xff\xfb\x90\x64" + bytes(range(256)) + bytes(124)
    Path("l.wav").write_bytes(frame * 30)
    run = sigsim(*CABLE, cwd=tmp_path)
    assert run.status == 2
    assert run.err.startswith("sigsim: ")
    assert run.err.count("\n") == 1, run.err


@pytest.mark.parametrize(
    ("value", "low", "high", "text"),
    [
        (149e-12, 0.0, 432e-12, "less than 430 pF"),
        (5.45e-45, 0.0, 2e-13, "less than 200 fF"),
        (1.4e-12, 0.7e-12, 2.9e-12, "700 fF to 2.9 pF"),
        (149e-12, 100e-12, 200e-12, "149 pF"),
    ],
)
def test_screen_and_file_say_the_same(value: float, low: float, high: float, text: str) -> None:
    figure = Figure(value, low, high, "F")
    assert figure_text(figure) == text
    found = replace(measured_cable(), recipe="input", figures={"input_capacitance": figure})
    lines = toml(found, "wah")
    if text == "149 pF":
        assert bounds(figure)
        assert 'input_capacitance = "149 pF ± ' in lines or '"150 pF ± ' in lines
    else:
        assert not bounds(figure)
        assert f"# input_capacitance: {text}" in lines


def test_an_exponent_that_is_none_is_0() -> None:
    figure = Figure(4.7e-8, 0.0, 0.01, "")
    figures: dict[str, Any] = {"loss_resistance": Figure(2e5, 1.9e5, 2.1e5, "Ω")}
    lines = toml(Measured("pickup", {}, {**figures, "loss_exponent": figure}), None)
    assert 'loss_exponent = "0"' in lines


@pytest.mark.parametrize(
    ("db", "text"),
    [(3.5e-6, "0.001 dB"), (0.00054, "0.001 dB"), (0.0123, "0.012 dB"), (2.2, "2.2 dB")],
)
def test_closer_than_anyone_asks(db: float, text: str) -> None:
    assert within_db(db) == text


@pytest.mark.parametrize(
    ("ohm", "words"),
    [
        (1e6, "does not load a pickup more than an amp does"),
        (510e3, "loads a pickup a little"),
        (50e3, "loads a pickup heavily"),
    ],
)
def test_an_input_is_judged(ohm: float, words: str) -> None:
    """An amp has 1 MΩ; 150 kΩ is the lower limit advised for a pickup (itecnotes.com, M. Grob)."""
    R, C = Figure(ohm, 0.99 * ohm, 1.01 * ohm, "Ω"), Figure(90e-12, 85e-12, 95e-12, "F")
    found = Measured("input", {}, {"input_resistance": R, "input_capacitance": C})
    assert words in sentence(found)
