"""A second simulator, written independently of the first: gnucap, with cables as sections.

It has no lossy line, so that its answer differs from the closed form by that of the sections. The
netlist is the one that ngspice runs; only the number of digits it prints is added.
"""

from __future__ import annotations

import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from helpers.program import EXAMPLES
from helpers.simulator import SPLITS

from sigsim.board.edit import each_cable
from sigsim.board.model import Board
from sigsim.board.reader import parse_board, read_board
from sigsim.board.state import State
from sigsim.items.cable import Cable
from sigsim.spice.compare import apart, without_loss_tangents
from sigsim.spice.emit_line import LineStyle
from sigsim.spice.netlist import netlist
from sigsim.states.circuit import Circuit

pytestmark = pytest.mark.skipif(shutil.which("gnucap") is None, reason="gnucap is not installed")

# What its inductors and its rounding allow. An inductor is an admittance there: 4 nH, a section of
# a patch cable, is 2e6 S at 20 Hz, and beside it a double keeps 2e6·1e-16 S, which behind a pickup
# of 1 MΩ at its resonance is 2e-4. Measured: 3.4e-3 dB and 0.025°. Without the cables' inductance
# the largest differences measured are 1e-6 dB and 1e-4°, rounding beside small resistors; the
# ladder that stands for the loss of a coil adds up to 2.4e-5 dB (tests/spice/test_spice_ladder.py).
TOLERANCES = {"as it is": (5e-3, 0.1), "cables without inductance": (3e-5, 5e-4)}


def solve(text: str, folder: Path) -> tuple[np.ndarray, np.ndarray]:
    first, rest = text.split("\n", 1)
    asked = rest.replace("vdb(out) vp(out)", "vr(out) vi(out)")
    (folder / "x.cir").write_text(f"{first}\n.options numdgt=12\n{asked}")
    said = subprocess.run(
        ["gnucap", "-b", "x.cir"],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=30,
        stdin=subprocess.DEVNULL,
        check=True,
    ).stdout
    rows = [line.split() for line in said.split("#Freq", 1)[1].splitlines()[1:] if line.strip()]
    f, real, imaginary = np.array([[_si(x) for x in row] for row in rows]).T
    return f, real + 1j * imaginary


def _si(text: str) -> float:
    """Read gnucap's numbers, which may end in a letter for a power of ten."""
    powers = {"f": -15, "p": -12, "n": -9, "u": -6, "m": -3, "K": 3, "Meg": 6}
    for suffix, power in powers.items():
        if text.endswith(suffix):
            return float(text.removesuffix(suffix)) * 10.0**power
    return float(text)


def without_inductance(cable: Cable) -> Cable:
    return replace(cable, spec=replace(cable.spec, inductance=0.0))


@pytest.mark.parametrize("version", TOLERANCES)
@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*.toml")), ids=lambda p: p.stem)
def test_gnucap_agrees(path: Path, version: str, tmp_path: Path) -> None:
    board = without_loss_tangents(read_board(path))
    if version != "as it is":
        board = each_cable(board, without_inductance)
    for state in board.named_states():
        assert_agrees(board, state, TOLERANCES[version], tmp_path)


def assert_agrees(board: Board, state: State, tolerances: tuple[float, float], at: Path) -> None:
    f, H = solve(netlist(board, state, style=LineStyle("sections", 20)).text, at)
    assert f.size > 90
    db, deg, frequency = apart(Circuit(board, f).response(state.on), H, f)
    assert db < tolerances[0], frequency
    assert deg < tolerances[1]


@pytest.mark.parametrize("at", ["", "wet", "tuner"])
def test_gnucap_agrees_at_every_end_of_a_split(at: str, tmp_path: Path) -> None:
    board = parse_board(SPLITS).heard_at(at)
    for on in (["l"], ["l", "echo"], ["l", "drive"], ["l", "echo", "drive"]):
        assert_agrees(board, board.state(on), TOLERANCES["as it is"], tmp_path)
