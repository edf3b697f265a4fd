"""The program against every published number, none left out."""

from __future__ import annotations

import csv
import io
import json
import math
from pathlib import Path
from typing import Any

import pytest
from helpers.in_process import sigsim_here
from helpers.published import METHODS, Case, agrees, every_case
from helpers.published_loads import found, used

from sigsim import metrics
from sigsim.board.reader import parse_board
from sigsim.states.response import Response, response

CASES = every_case()
# What `sigsim loss --json` calls the answer to a question; the loss at a frequency is in the CSV.
PRINTED = {
    "level": "level_db",
    "treble_loss": "treble_loss_db",
    "corner": "corner_hz",
    "resonance_hz": "resonance_hz",
    "resonance_db": "resonance_db",
}
HAND_CHECK = {
    "hand_r": "source_resistance_ohm",
    "hand_c": "capacitance_f",
    "hand_rc": "rc_corner_hz",
    "hand_lc": "lc_resonance_hz",
}
COLUMNS = {"gain": "gain_db", "phase": "phase_deg", "loss": "loss_db"}


def _labelled(cases: list[tuple[str, Case]]) -> list[Any]:
    return [pytest.param(file, case, id=f"{file}: {case['name']}") for file, case in cases]


@pytest.mark.parametrize(("file", "case"), _labelled(CASES))
def test_published_number(file: str, case: Case) -> None:
    """A case that nothing compares is an error: `found` knows no way to it."""
    said = found(file, case)
    assert agrees(case, said), f"{said} for {case['expected']} {case['unit']}"


def test_no_way_to_compare_is_left_over() -> None:
    assert set(METHODS) == set(METHODS) & used()


def test_a_case_that_nothing_compares_is_noticed() -> None:
    for case in ({"inputs": {}, "name": "new"}, {"inputs": {}, "asks": "colour", "board": ""}):
        with pytest.raises((KeyError, ValueError)):
            found("a file of its own", case)


@pytest.mark.parametrize(
    ("file", "case"),
    _labelled(
        [entry for entry in CASES if entry[1].get("asks") in {*PRINTED, *HAND_CHECK, *COLUMNS}]
    ),
)
def test_the_command_line_prints_the_same(file: str, case: Case, tmp_path: Path) -> None:
    """What the command prints for a worked board is the number that was worked out."""
    board = tmp_path / "board.toml"
    board.write_text(case["board"], encoding="utf-8")
    state = ["--on", ",".join(case["on"])] if "on" in case else ["--all-off"]
    state += ["--at", case["at"]] if "at" in case else []
    asks = case["asks"]
    if asks in COLUMNS:
        f = case["inputs"]["frequency_hz"]
        bounds = ("--from", repr(f), "--to", repr(1.1 * f), "--points", "2")
        run = sigsim_here("response", board, *state, *bounds, "--csv", "-")
        said = float(next(csv.DictReader(io.StringIO(run.out)))[COLUMNS[asks]])
    else:
        run = sigsim_here("loss", board, *state, "--json")
        printed = json.loads(run.out)["states"][0]
        hand_check = printed["hand_check"][-1]
        said = printed[PRINTED[asks]] if asks in PRINTED else hand_check[HAND_CHECK[asks]]
    assert run.status == 0, run.err
    assert agrees(case, said)


def _with_boxes(instrument: str, boxes: int) -> Response:
    """Return a bass with true-bypass boxes, all off, a foot of patch lead between them."""
    box = '[[chain]]\nstage = "box {}"\npart = "pedal-true-bypass"\n'
    text = f"""
        instrument = {{part = "{instrument}"}}
        destination = {{part = "instrument-input"}}
        wiring = {{cable = "patch", length = "30 cm"}}
        cables = {{lead = {{part = "cable-standard"}}, patch = {{part = "cable-patch"}}}}
        [[chain]]
        cable = "lead"
        length = "3 m"
        {"".join(box.format(number) for number in range(boxes))}
        [[chain]]
        cable = "lead"
        length = "6 m"
        """
    return response(parse_board(text))


@pytest.mark.parametrize("instrument", ["bass-single-coil", "bass-split-coil", "bass-two-coil"])
def test_one_true_bypass_box_is_negligible_and_five_are_not(instrument: str) -> None:
    # Common practice; D. Lamkins, "How many true-bypass pedals is too many?": trouble starts at
    # "around four or five". 1 dB is where the tool's own words stop calling a loss negligible.
    none, *loss = [metrics.treble_loss(_with_boxes(instrument, n)) for n in range(6)]
    added = [some - none for some in loss]
    assert metrics.verdict(added[0]) == "negligible"
    assert metrics.verdict(added[4]) != "negligible"
    assert added == sorted(added)
    assert math.isclose(added[4] / 5, added[3] / 4, rel_tol=0.1)  # each box costs about the same


def test_active_bass_does_not_mind_the_same_boxes() -> None:
    # Common practice, no source: a low output resistance is the cure. A tenth of "negligible".
    assert metrics.treble_loss(_with_boxes("bass-active", 5)) < 0.1
