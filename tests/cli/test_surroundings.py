"""What is around the program changes nothing but looks; options that say nothing are errors."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from helpers.in_process import sigsim_here as sigsim
from helpers.program import sigsim as sigsim_apart
from helpers.refusals import ENDS, LEAD, STAGE, assert_refused

NAMED = STAGE.replace('"fuzz"', '"Gummibärchen Ω 🎸"')


@pytest.fixture
def board(tmp_path: Path) -> Path:
    path = tmp_path / "b.toml"
    path.write_text(ENDS + LEAD + STAGE + '[scenes]\nsolo = ["fuzz"]\n', encoding="utf-8")
    return path


def shell(command: str, folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        command.replace("sigsim", f'"{sys.executable}" -m sigsim', 1),
        shell=True, cwd=folder, capture_output=True, text=True, timeout=100,
    )  # fmt: skip


@pytest.mark.parametrize(
    "around",
    [
        {"HOME": "/proc", "XDG_CONFIG_HOME": "/proc", "XDG_CACHE_HOME": "/proc"},
        {"MPLCONFIGDIR": "/proc/x"},
        {"TERM": "dumb", "COLUMNS": "20", "MPLBACKEND": "junk"},
        {"COLUMNS": "junk", "LC_ALL": "C", "PYTHONIOENCODING": "ascii"},
    ],
    ids=lambda around: " ".join(around),
)
def test_a_plot_is_drawn_without_a_word(around: dict[str, str], board: Path) -> None:
    run = sigsim_apart("loss", board, "--plot", board.parent / "p.png", env=os.environ | around)
    assert (run.status, run.err) == (0, "")
    assert (board.parent / "p.png").stat().st_size > 5000


def test_settings_of_matplotlib_in_the_folder_do_not_count(board: Path) -> None:
    (board.parent / "matplotlibrc").write_text("text.usetex: True\nnonsense: 1\n")
    run = sigsim_apart("loss", board, "--plot", "p.png", cwd=board.parent)
    assert (run.status, run.err) == (0, "")


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp437"])
def test_a_name_survives_a_stream_of_few_letters(encoding: str, board: Path) -> None:
    board.write_text(ENDS + LEAD + NAMED, encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "sigsim", "loss", board, "--json"],
        capture_output=True, env=os.environ | {"PYTHONIOENCODING": encoding}, timeout=60,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    text = done.stdout.decode("utf-8" if encoding == "ascii" else encoding)
    assert json.loads(text)["worst"]["on"] in ([], ["Gummibärchen Ω 🎸"])


def test_streams_that_are_full_or_closed(board: Path) -> None:
    """Only where a test may not harm them: nothing here writes to a device by its name."""
    assert shell("sigsim loss no.toml 2>/dev/full", board.parent).returncode == 2
    assert shell("sigsim loss no.toml 2>&-", board.parent).returncode == 2
    for stream in (">/dev/full", ">&-"):
        done = shell(f"sigsim loss b.toml {stream}", board.parent)
        assert done.returncode == 2
        assert "standard output cannot be written" in done.stderr
    board.write_text(board.read_text().replace('"1M"', '"1m"'))  # which warns
    assert shell("sigsim loss b.toml 2>/dev/full", board.parent).returncode == 2


def test_a_closed_pipe_still_leaves_the_files(board: Path) -> None:
    done = shell("sigsim states b.toml --plot p.svg --json | true", board.parent)
    assert done.stderr == ""
    assert (board.parent / "p.svg").exists()


SAYS_NOTHING = [
    ["loss", "--on", ""],
    ["loss", "--on", ",,"],
    ["loss", "--scene", " "],
    ["states", "--off", ","],
    ["states", "--scene-like", " , "],
    ["states", "--csv", ""],
    ["buffer", "--weight", ""],
    ["cables", "--only", ","],
    ["spread", "--tolerance", ","],
    ["report", "-o", "x.html", "--with", ","],
    ["netlist", "-o", ""],
    ["crosscheck", "--on", ","],
]
TOGETHER = [
    ["states", "--csv", "-", "--json"],
    ["response", "--csv", "-", "--json"],
    ["crosscheck", "--all-off", "--states", "3"],
    ["response", "--all-off", "--on", "fuzz"],
    ["loss", "--plot-size", "12x12"],
    ["netlist", "--sections", "5"],
    ["spread", "--corners", "3"],
]


@pytest.mark.parametrize("arguments", SAYS_NOTHING + TOGETHER, ids=" ".join)
def test_options_that_say_nothing_or_cannot_be(arguments: list[str], board: Path) -> None:
    run = sigsim(arguments[0], board, *arguments[1:], cwd=board.parent)
    assert_refused(run, "--" if "-o" not in arguments else "-")
    assert run.err.count("\n") == 1
    assert os.listdir(board.parent) == ["b.toml"]


def test_an_empty_name_of_a_board() -> None:
    assert_refused(sigsim("loss", ""), "BOARD", "says nothing")


def test_an_empty_choice_names_the_choices(board: Path) -> None:
    assert_refused(sigsim("loss", board, "--reference", ""), "ideal, direct, bare")
    assert_refused(sigsim("buffer", board, "--count", ""), "a whole number")


def test_csv_into_a_file_and_json_here(board: Path) -> None:
    run = sigsim("response", board, "--csv", "x.csv", "--json", "--points", 3, cwd=board.parent)
    assert len(json.loads(run.out)["frequency_hz"]) == 3
    assert (board.parent / "x.csv").read_text().startswith("frequency_hz,")


@pytest.mark.parametrize(
    ("arguments", "near"),
    [
        (["noise", "--level", "100"], "100 mV"),
        (["noise", "--temperature", "20"], "20 C"),
    ],
    ids=" ".join,
)
def test_a_number_that_needs_its_unit(arguments: list[str], near: str, board: Path) -> None:
    run = sigsim(arguments[0], board, *arguments[1:])
    assert_refused(run, f'did you mean "{near}"?')


def test_more_than_a_thousand_states(tmp_path: Path) -> None:
    stages = "".join(STAGE.replace("fuzz", f"s{n}") for n in range(11))
    (tmp_path / "b.toml").write_text(ENDS + LEAD + stages, encoding="utf-8")
    run = sigsim("states", tmp_path / "b.toml", "--top", 1001, "--json")
    assert len(json.loads(run.out)["top"]) == 1001
    assert_refused(sigsim("states", tmp_path / "b.toml", "--top", 10**9), "20,000", "--csv")
