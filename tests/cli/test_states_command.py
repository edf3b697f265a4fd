"""`sigsim states` as a user runs it: JSON, CSV, plots, holding things, stopping half-way."""

from __future__ import annotations

import csv
import io
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from helpers.all_states import many_stages
from helpers.in_process import sigsim_here as sigsim
from helpers.program import EXAMPLES
from helpers.refusals import ENDS, assert_refused

from sigsim.show.states_csv import CSV_COLUMNS

BASS = EXAMPLES / "ferry-bass.toml"


def test_json_holds_what_scripts_rely_on() -> None:
    run = sigsim("states", BASS, "--json", "--top", 4, "--below", 2000)
    report = json.loads(run.out)
    assert report["states_total"] == 256
    assert len(report["switchable"]) == 8
    assert [entry["rank"] for entry in report["top"]] == [1, 2, 3, 4]
    assert report["top"][0]["on"] == []
    assert set(report["top"][0]["off"]) == set(report["switchable"])
    losses = [entry["treble_loss_db"] for entry in report["top"]]
    assert losses == sorted(losses, reverse=True)
    assert report["summary"]["worst_db"] == pytest.approx(losses[0])
    worst = json.loads(sigsim("loss", BASS, "--json").out)["worst"]
    for key, value in worst.items():
        assert report["top"][0][key] == value, key


def test_csv_lists_every_state_once() -> None:
    run = sigsim("states", BASS, "--csv", "-")
    rows = list(csv.DictReader(io.StringIO(run.out)))
    assert tuple(rows[0]) == CSV_COLUMNS
    assert len({row["on"] for row in rows}) == len(rows) == 256
    off = next(row for row in rows if not row["on"])
    report = json.loads(sigsim("loss", BASS, "--json", "--all-off").out)["states"][0]
    # Six significant digits are written.
    assert float(off["treble_loss_db"]) == pytest.approx(report["treble_loss_db"], rel=1e-5)
    assert float(off["corner_hz"]) == pytest.approx(report["corner_hz"], rel=5e-3)
    assert off["verdict"] == report["verdict"]


def test_holding_things_on_and_off() -> None:
    run = sigsim("states", BASS, "--json", "--scene-like", "tuner,swell", "--off", "bilge fuzz")
    report = json.loads(run.out)
    assert report["states_total"] == 2**5
    assert report["held"] == {"tuner": True, "swell": True, "bilge fuzz": False}
    for entry in report["top"]:
        assert {"tuner", "swell"} <= set(entry["on"])
        assert "bilge fuzz" in entry["off"]


def test_names_in_csv_are_quoted(tmp_path: Path) -> None:
    board = tmp_path / "board.toml"
    name = 'a, "b" and\\nc'
    board.write_text(many_stages(1).replace('"s0"', f"'''{name}'''"), encoding="utf-8")
    rows = list(csv.DictReader(io.StringIO(sigsim("states", board, "--csv", "-").out)))
    assert {row["on"] for row in rows} == {"", name}


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--scene-like", "tuner", "--off", "tuner"], ["on and off at once"]),
        (["--off", "tunr"], ['did you mean "tuner"']),
        (["--scene-like", "tunr"], ['did you mean "tuner"']),
        (["--by", "0.5"], ["1 Hz to 100 kHz"]),
        (["--by", "200 kHz"], ["1 Hz to 100 kHz"]),
        (["--by", "trebel"], ['did you mean "treble"']),
        (["--below", "0"], ["--below"]),
        (["--top", "0"], ["--top"]),
        (["--seconds", "nan"], ["--seconds", "0 to 86400"]),
        (["--seconds", "-1"], ["--seconds"]),
    ],
    ids=lambda value: " ".join(value),
)
def test_bad_options(arguments: list[str], words: list[str]) -> None:
    assert_refused(sigsim("states", BASS, *arguments), *words)


def test_csv_that_exists_is_kept(tmp_path: Path) -> None:
    taken = tmp_path / "taken.csv"
    taken.write_text("mine")
    assert_refused(sigsim("states", BASS, "--csv", taken), "--force")
    assert taken.read_text() == "mine"


def test_too_many_to_list_says_what_to_do(tmp_path: Path) -> None:
    board = tmp_path / "board.toml"
    board.write_text(many_stages(26))
    assert_refused(sigsim("states", board, "--csv", "-"), "26 switches", "at most 24", "--off")


def test_far_too_many_say_the_limit(tmp_path: Path) -> None:
    board = tmp_path / "board.toml"
    board.write_text(many_stages(301))
    assert_refused(sigsim("states", board), "301 switches", "at most 300")
    assert sigsim("loss", board).status == 0


def test_full_disk_while_streaming_leaves_nothing(tmp_path: Path) -> None:
    board = tmp_path / "board.toml"
    board.write_text(many_stages(14))
    command = f'ulimit -f 64; "{sys.executable}" -m sigsim states "{board}" --csv x.csv'
    done = subprocess.run(
        command, shell=True, cwd=tmp_path, capture_output=True, text=True, timeout=60
    )
    assert done.returncode == 2, done.stderr
    assert "cannot be written" in done.stderr
    assert os.listdir(tmp_path) == ["board.toml"]


def test_stopping_half_way_leaves_nothing(tmp_path: Path) -> None:
    board = tmp_path / "board.toml"
    board.write_text(many_stages(22))
    process = subprocess.Popen(
        [sys.executable, "-m", "sigsim", "states", str(board), "--csv", "x.csv"],
        cwd=tmp_path, stderr=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert process.stderr is not None
    progress = process.stderr.readline()  # it runs for more than a second
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=30)
    assert "states" in progress
    assert "a second" in progress
    assert "left" in progress
    assert process.returncode == 130
    assert "Traceback" not in err
    assert out == ""
    deadline = time.monotonic() + 5
    while os.listdir(tmp_path) != ["board.toml"] and time.monotonic() < deadline:
        time.sleep(0.1)
    assert os.listdir(tmp_path) == ["board.toml"]


@pytest.mark.parametrize("kind", ["png", "svg", "pdf"])
def test_plot(kind: str, tmp_path: Path) -> None:
    target = tmp_path / f"states.{kind}"
    run = sigsim("states", EXAMPLES / "ferry-guitar-big.toml", "--plot", target)
    assert run.status == 0, run.err
    assert target.stat().st_size > 5000


def test_many_switches_that_make_few_states_are_listed(tmp_path: Path) -> None:
    """Loops within loops: each hides what is inside it, so that 30 of them make few states."""
    item = '{stage = "s", input_resistance = "50k", output_resistance = "1k", bypass = "true"}'
    for depth in reversed(range(30)):
        item = f'{{loop = "l{depth}", inside = [{item}]}}'
    board = tmp_path / "b.toml"
    board.write_text(f"chain = [{item}]\n{ENDS}", encoding="utf-8")
    found = json.loads(sigsim("states", board, "--json").out)
    assert found["states_total"] == 32
    assert found["sampled"] is None
    words = ("negligible", "slight", "clear", "heavy", "silent")
    assert sum(found["summary"][word] for word in words) == 32
    assert len(sigsim("states", board, "--csv", "-").out.splitlines()) == 33
