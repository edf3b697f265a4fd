"""`sigsim netlist` and `sigsim crosscheck` as a user runs them."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import time
from ctypes.util import find_library
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest
from helpers.all_states import every_state
from helpers.in_process import sigsim_here as sigsim
from helpers.program import EXAMPLES
from helpers.program import sigsim as sigsim_apart
from helpers.simulator import ENDS, LEAD, with_ngspice

from sigsim.board.reader import parse_board, read_board
from sigsim.spice.compare import apart
from sigsim.spice.pick import MOST_STATES, picked
from sigsim.states.distinct import distinct_states

BOARD = EXAMPLES / "ferry-bass.toml"
STAGE = '[[chain]]\nstage = "{}"\ninput_resistance = "1M"\noutput_resistance = "1k"\n'
# The pickup of the example is one of the library, whose loss grows with frequency.
LADDER = (
    "note: the coil's loss of exponent 0.5 is written as a ladder, within 0.01 dB and 0.1 degrees "
    "from 20 Hz to 40 kHz; this program's own side is exact\n"
)


@pytest.fixture
def private(tmp_path: Path) -> dict[str, str]:
    """Return an environment whose temporary folder is empty and our own."""
    (tmp_path / "tmp").mkdir()
    return os.environ | {"TMPDIR": str(tmp_path / "tmp")}


def script(path: Path, body: str) -> Path:
    path.write_text(f"#!/bin/sh\n{body}\n")
    path.chmod(0o755)
    return path


def test_netlist_to_a_file_and_never_over_one(tmp_path: Path) -> None:
    out = tmp_path / "board.cir"
    assert sigsim("netlist", BOARD, "-o", out).status == 0
    written = out.read_text()
    assert written == sigsim("netlist", BOARD).out
    refused = sigsim("netlist", BOARD, "--line", "sections", "-o", out)
    assert (refused.status, refused.out) == (2, "")
    assert "--force overwrites" in refused.err
    assert out.read_text() == written
    assert sigsim("netlist", BOARD, "--line", "sections", "-o", out, "--force").status == 0
    assert out.read_text() != written
    assert [p.name for p in tmp_path.iterdir()] == ["board.cir"]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--scene", "nope"], "no scene"),
        (["--line", "tline"], "tline"),
        (["--sections", "0"], "--sections"),
        (["--all-off", "--scene", "storm"], "one combination"),
    ],
)
def test_netlist_refuses(arguments: list[str], said: str, tmp_path: Path) -> None:
    done = sigsim("netlist", BOARD, *arguments, "-o", tmp_path / "x.cir")
    assert done.status == 2
    assert said in done.err
    assert not list(tmp_path.iterdir())


def test_a_loss_tangent_is_reported(tmp_path: Path) -> None:
    board = tmp_path / "b.toml"
    board.write_text(ENDS + "loss_tangent = 0.02\n" + LEAD)
    done = sigsim("netlist", board)
    assert "note: the loss tangent of cable lead, 0.02, is left out" in done.err
    assert "loss tangent" in done.out


@pytest.mark.parametrize("program", [None, "/no/such/program"])
def test_a_missing_program_is_a_clear_message(program: str | None, tmp_path: Path) -> None:
    chosen = [] if program is None else ["--ngspice", program]
    done = sigsim_apart("crosscheck", BOARD, *chosen, env={"PATH": str(tmp_path)})
    assert (done.status, done.out) == (2, "")
    assert "apt install ngspice" in done.err
    assert done.err.count("\n") == 1


@pytest.mark.parametrize("states", ["5x", "-1", "9999999", "", "²"])
def test_unclear_states(states: str) -> None:
    done = sigsim("crosscheck", BOARD, f"--states={states}", "--ngspice", sys.executable)
    assert (done.status, done.out) == (2, "")
    assert "--states" in done.err


def test_a_program_that_hangs_is_ended_with_all_it_started(
    tmp_path: Path, private: dict[str, str]
) -> None:
    pids = tmp_path / "pids"
    hang = script(tmp_path / "hang", f"sleep 300 & echo $! >> {pids}\nsleep 300")
    start = time.monotonic()
    done = sigsim_apart("crosscheck", BOARD, "--ngspice", hang, "--timeout", "0.5", env=private)
    assert time.monotonic() - start < 20
    assert (done.status, done.out) == (2, "")
    assert "longer than 0.5 s" in done.err
    assert not list((tmp_path / "tmp").iterdir())
    time.sleep(0.2)
    for pid in pids.read_text().split():
        state = Path(f"/proc/{pid}/stat")
        assert not state.exists() or state.read_text().split()[2] == "Z"


def test_a_request_to_end_leaves_nothing(tmp_path: Path, private: dict[str, str]) -> None:
    started = tmp_path / "started"
    hang = script(tmp_path / "hang", f"touch {started}\nsleep 300")
    command = [sys.executable, "-m", "sigsim", "crosscheck", str(BOARD), "--ngspice", str(hang)]
    with subprocess.Popen(command, env=private, stderr=subprocess.PIPE) as process:
        for _ in range(500):
            if started.exists():
                break
            time.sleep(0.02)
        process.terminate()
        process.communicate(timeout=20)
    assert process.returncode == 143
    assert not list((tmp_path / "tmp").iterdir())


@pytest.mark.parametrize("body", ["exit 0", "echo nonsense > results.raw", "exit 3"])
def test_a_program_that_is_no_simulator(body: str, tmp_path: Path, private: dict[str, str]) -> None:
    done = sigsim_apart("crosscheck", BOARD, "--ngspice", script(tmp_path / "x", body), env=private)
    assert (done.status, done.out) == (2, "")
    assert "simulator" in done.err
    assert "Traceback" not in done.err
    assert not list((tmp_path / "tmp").iterdir())


@with_ngspice
def test_table(private: dict[str, str], tmp_path: Path) -> None:
    done = sigsim_apart("crosscheck", BOARD, "--states", "5", env=private)
    assert (done.status, done.err) == (0, LADDER)
    assert max(map(len, done.out.splitlines())) <= 80
    assert done.out.startswith("ngspice-")
    for name in ("all off", "storm"):
        assert name in done.out
    assert not list((tmp_path / "tmp").iterdir())


@with_ngspice
def test_json_and_seed() -> None:
    run = ["crosscheck", BOARD, "--json", "--states", "4", "--seed"]
    first, again, other = (json.loads(sigsim(*run, seed).out) for seed in (1, 1, 2))
    names = [[s["name"] for s in d["states"]] for d in (first, again, other)]
    assert names[0] == names[1] != names[2]
    assert len(names[0]) == 1 + len(read_board(BOARD).scenes) + 4
    assert first["held"] is True
    assert first["limit_db"] == 0.001
    assert all(0 <= s["difference_db"] < 1e-4 and s["seconds"] > 0 for s in first["states"])


@with_ngspice
def test_a_limit_that_is_passed_is_status_1() -> None:
    done = sigsim("crosscheck", BOARD, "--limit", "0", "--states", "scenes")
    assert done.status == 1
    assert "too much" in done.out


@with_ngspice
def test_all_states(tmp_path: Path) -> None:
    board = tmp_path / "b.toml"
    board.write_text(ENDS + LEAD + "".join(STAGE.format(n) for n in "abcd"))
    done = json.loads(sigsim("crosscheck", board, "--states", "all", "--json").out)
    assert len(done["states"]) == done["distinct_states"] == 16
    assert "agrees in all 16 combinations" in sigsim("crosscheck", board, "--states", "all").out


@with_ngspice
def test_the_file_runs_unchanged_and_prints(tmp_path: Path) -> None:
    for extra in ([], ["--line", "sections"], ["--noise"], ["--reference", "ideal"]):
        out = tmp_path / "x.cir"
        assert sigsim("netlist", BOARD, "-o", out, "--force", *extra).status == 0
        said = subprocess.run(
            ["ngspice", "-b", out.name],
            cwd=tmp_path,
            capture_output=True,
            text=True,
            timeout=30,
            stdin=subprocess.DEVNULL,
            check=False,
        )
        assert "vdb(out)" in said.stdout
        assert re.search(r"^\d+\t4\.000000e\+04\t-", said.stdout, re.MULTILINE)
        assert not re.search("error|warning", said.stdout + said.stderr, re.IGNORECASE)


@pytest.mark.skipif(
    find_spec("PySpice") is None or find_library("ngspice") is None,
    reason="PySpice or libngspice is not installed",
)
@with_ngspice
def test_in_process() -> None:
    done = sigsim("crosscheck", BOARD, "--engine", "pyspice", "--json", "--states", "3")
    assert (done.status, done.err) == (0, LADDER)
    program = sigsim("crosscheck", BOARD, "--json", "--states", "3")
    one, two = (json.loads(d.out)["states"] for d in (done, program))
    assert [s["name"] for s in one] == [s["name"] for s in two]
    # The same simulator: the same numbers, to the last digits.
    for a, b in zip(one, two, strict=True):
        assert a["difference_db"] == pytest.approx(b["difference_db"], rel=0.1, abs=1e-11)


def test_without_pyspice(tmp_path: Path) -> None:
    (tmp_path / "PySpice").mkdir()
    (tmp_path / "PySpice" / "__init__.py").write_text("raise ImportError")
    env = os.environ | {"PYTHONPATH": str(tmp_path)}
    done = sigsim_apart("crosscheck", BOARD, "--engine", "pyspice", env=env)
    assert (done.status, done.out) == (2, "")
    assert "pip install 'sigsim[spice]'" in done.err


def test_states_that_are_picked() -> None:
    inside = '[[chain]]\nloop = "l"\n' + STAGE.format("x").replace("chain", "chain.inside")
    scenes = '[scenes]\none = ["a"]\nsame = ["a", "x"]\n'
    board = parse_board(ENDS + LEAD + STAGE.format("a") + inside + scenes)
    # a off/on, loop out or in with x off/on: 2·(1 + 2).
    assert len(every_state(board)) == 6
    everything = picked(board, None, 0)
    assert [state.name for state in everything[:3]] == ["every stage off", "one", "same"]
    assert {board.heard(state.on) for state in everything} == every_state(board)
    assert len(everything) == 7  # "same" is "one" with a switch that is not in the circuit
    assert picked(board, 2, 5) == picked(board, 2, 5)
    assert len(picked(board, 0, 0)) == 3


def test_more_states_than_can_be_run_are_drawn() -> None:
    board = parse_board(ENDS + LEAD + "".join(STAGE.format(n) for n in range(12)))
    assert distinct_states(board) == 4096
    states = [state.on for state in picked(board, None, 3)]
    assert len(states) == len(set(states)) == MOST_STATES


def test_differences_of_silence() -> None:
    f = np.array([1.0, 2.0])
    silent, one, half = np.zeros(2, complex), np.ones(2, complex), np.array([1, 0.5], complex)
    assert apart(silent, silent, f)[:2] == (0.0, 0.0)
    assert apart(one, silent, f)[:2] == (np.inf, np.inf)
    assert apart(one, half, f) == (pytest.approx(6.0206, abs=1e-4), 0.0, 2.0)  # 20·log10(2)
    assert apart(one, one * np.nan, f)[0] == np.inf
    assert apart(one, 1j * one, f)[1] == pytest.approx(90)


def test_ngspice_is_where_these_tests_think() -> None:
    if shutil.which("ngspice") is None:
        pytest.skip("ngspice is not installed: the tests marked ngspice were skipped")


@pytest.mark.parametrize("option", ["--limit", "--limit-degrees", "--timeout"])
def test_what_is_no_number_is_no_limit(option: str) -> None:
    run = sigsim("crosscheck", BOARD, option, "nan")
    assert run.status == 2
    assert f"{option}: this is no number" in run.err
