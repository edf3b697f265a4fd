"""The program against answers of ngspice that are kept in a file: no simulator needed."""

from __future__ import annotations

import csv
from itertools import groupby
from pathlib import Path

import numpy as np
import pytest
from helpers.simulator import DECIBELS, DEGREES, ngspice, with_ngspice

from sigsim.board.reader import read_board
from sigsim.board.state import ALL_OFF
from sigsim.spice.compare import without_loss_tangents
from sigsim.spice.engines import ac
from sigsim.spice.netlist import netlist
from sigsim.states.response import response

FOLDER = Path(__file__).parents[2] / "reference" / "simulator"

Case = tuple[np.ndarray, np.ndarray, np.ndarray]


def _read() -> dict[tuple[str, str], Case]:
    with (FOLDER / "expected.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    columns = ("frequency_hz", "gain_db", "phase_deg")
    return {
        key: tuple(np.array([[float(r[c]) for c in columns] for r in group]).T)
        for key, group in groupby(rows, key=lambda r: (r["board"], r["state"]))
    }


EXPECTED = _read()


def apart(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Return how far two phases [degrees] are apart, whichever way round."""
    return np.abs((one - other + 180) % 360 - 180)


def test_no_case_has_gone() -> None:
    assert len(EXPECTED) == 12 * 3
    assert {len(f) for f, _, _ in EXPECTED.values()} == {20}
    assert len(list(FOLDER.glob("*.toml"))) == 12


@pytest.mark.parametrize("key", EXPECTED, ids="-".join)
def test_agrees(key: tuple[str, str]) -> None:
    f, gain, phase = EXPECTED[key]
    board = without_loss_tangents(read_board(FOLDER / f"{key[0]}.toml"))
    state = board.state(()) if key[1] == ALL_OFF else board.scene(key[1])
    ours = response(board, state.on, f)
    np.testing.assert_allclose(ours.gain_db, gain, rtol=0, atol=DECIBELS)
    assert apart(ours.phase_deg, phase).max() < DEGREES


# Nine decimals are kept; a newer version may order its matrix differently (7e-7 dB of rounding
# is the most that was seen between exact methods).
@pytest.mark.parametrize("key", EXPECTED, ids="-".join)
@with_ngspice
def test_the_file_is_what_the_simulator_says(key: tuple[str, str]) -> None:
    f, gain, phase = EXPECTED[key]
    board = read_board(FOLDER / f"{key[0]}.toml")
    state = board.state(()) if key[1] == ALL_OFF else board.scene(key[1])
    answer = ac(ngspice().run(netlist(board, state, points=6).text))
    np.testing.assert_allclose(answer.frequency, f, rtol=1e-12)
    np.testing.assert_allclose(20 * np.log10(np.abs(answer.H)), gain, rtol=0, atol=1e-6)
    assert apart(np.degrees(np.angle(answer.H)), phase).max() < 1e-5
