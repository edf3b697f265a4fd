"""The program against boards that another simulator solved (see `acceptance/README.md`)."""

from __future__ import annotations

import csv
import re
import tomllib
from collections import defaultdict
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from helpers.nodal import Version, solve
from numpy.typing import NDArray

from sigsim.board.reader import parse_board
from sigsim.states.response import response

FOLDER = Path(__file__).parent
# What the program promises; the losses in the file are 5 to 10 dB, the cables' pi sections are good
# to 0.0001 dB, and the file is printed to 0.000001 dB and 0.00001°.
DECIBELS = 1e-3
DEGREES = 1e-2

COLUMNS = ("frequency_hz", "gain_db", "phase_deg", "loss_vs_ideal_db", "loss_vs_direct_db")
Case = tuple[str, str]


def _expected() -> dict[Case, dict[str, NDArray[np.float64]]]:
    rows: dict[Case, list[dict[str, str]]] = defaultdict(list)
    with (FOLDER / "expected.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            rows[row["board"], row["on"]].append(row)
    return {
        case: {name: np.array([float(row[name]) for row in found]) for name in COLUMNS}
        for case, found in rows.items()
    }


EXPECTED = _expected()
CASES = [pytest.param(*case, id=" ".join(case)) for case in EXPECTED]


def text_of(name: str) -> str:
    """Return the text of a board file."""
    return (FOLDER / f"{name}.toml").read_text(encoding="utf-8")


def assert_agrees(text: str, case: Case) -> None:
    """Compare every row of a case with the program."""
    expected, on = EXPECTED[case], frozenset(filter(None, case[1].split("+")))
    board, frequency = parse_board(text), expected["frequency_hz"]
    made = response(board, on, frequency)
    direct = response(board, on, frequency, "direct")
    turned = (made.phase_deg - expected["phase_deg"] + 180) % 360 - 180
    np.testing.assert_allclose(turned, 0, atol=DEGREES)
    for ours, column in (
        (made.gain_db, "gain_db"),
        (made.loss_db, "loss_vs_ideal_db"),
        (direct.loss_db, "loss_vs_direct_db"),
    ):
        np.testing.assert_allclose(ours, expected[column], rtol=0, atol=DECIBELS, err_msg=column)


def test_no_case_is_missing() -> None:
    assert {name for name, _ in EXPECTED} == {path.stem for path in FOLDER.glob("*.toml")}
    assert sum(case["gain_db"].size for case in EXPECTED.values()) == 480


@pytest.mark.parametrize(("name", "on"), CASES)
def test_board_agrees_with_the_simulator(name: str, on: str) -> None:
    assert_agrees(text_of(name), (name, on))


SIZES = {"p": 1e-12, "n": 1e-9, "µ": 1e-6, "m": 1e-3, "": 1.0, "k": 1e3, "M": 1e6}
UNITS = ("Ω", "F", "H", "Hz", "dB", "m", "cm", "ft", "in", "F/m", "F/ft", "Ω/m", "H/m")
LENGTHS = {"cm": 0.01, "ft": 0.3048, "in": 0.0254, "F/ft": 1 / 0.3048}


def plain(value: Any) -> Any:
    """Return a parsed board file with every quantity as a float in SI units."""
    if isinstance(value, dict):
        return {key: plain(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [plain(inner) for inner in value]
    if isinstance(value, str) and (found := re.fullmatch(r"(-?[\d.]+) ([pnµmkM]?)(\D+)", value)):
        return _in_si(*found.groups())
    return value


def _in_si(number: str, prefix: str, unit: str) -> float:
    if prefix + unit in UNITS:  # "m" alone is a metre
        prefix, unit = "", prefix + unit
    assert unit in UNITS
    return float(number) * SIZES[prefix] * LENGTHS.get(unit, 1.0)


@pytest.mark.parametrize(("name", "on"), CASES)
def test_program_agrees_with_nodal_analysis_on_the_boards_as_written(name: str, on: str) -> None:
    text, frequency = text_of(name), EXPECTED[name, on]["frequency_hz"]
    board, names = parse_board(text), frozenset(filter(None, on.split("+")))
    made, direct = response(board, names, frequency), response(board, names, frequency, "direct")
    curves: dict[Version, Any] = {
        "as built": made.H,
        "ideal": made.reference.H,
        "direct": direct.reference.H,
    }
    for version, ours in curves.items():
        theirs = solve(plain(tomllib.loads(text)), names, frequency, version)
        # Only rounding differs: measured 3e-14 of the value.
        np.testing.assert_allclose(ours, theirs, rtol=1e-8, atol=0, err_msg=version)
