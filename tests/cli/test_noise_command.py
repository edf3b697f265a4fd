"""`sigsim noise` as a user runs it: numbers, words, bad input, names of any length."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from helpers.in_process import sigsim_here
from helpers.program import EXAMPLES
from matplotlib.figure import Figure

from sigsim.board.reader import parse_board, read_board
from sigsim.board.state import State
from sigsim.decide.noise import NoiseReport, noise_report
from sigsim.show.plots.noise import draw_noise

BASS = EXAMPLES / "ferry-bass.toml"


def document(*arguments: object) -> dict[str, Any]:
    run = sigsim_here("noise", *arguments, "--json")
    assert run.status == 0, run.err
    found: dict[str, Any] = json.loads(run.out)
    return found


def report(path: Path = BASS) -> NoiseReport:
    board = read_board(path)
    return noise_report(board, board.named_states())


def test_every_state_has_its_numbers() -> None:
    found = document(BASS)
    assert found["level_v"] == 0.1
    assert found["temperature_k"] == 290.0
    names = ["every stage off", "quiet waltz", "last dance", "night swell", "storm"]
    assert [state["name"] for state in found["states"]] == names
    for state in found["states"]:
        for place in ("destination", "instrument"):
            totals = state[place]
            for kind in ("flat", "a_weighted"):
                volts, dbv = totals[f"{kind}_v"], totals[f"{kind}_dbv"]
                assert dbv == pytest.approx(20 * np.log10(volts))
                assert totals[f"{kind}_below_level_db"] == pytest.approx(-20 - dbv)
        for kind in ("percent_flat", "percent_a_weighted"):
            assert sum(part[kind] for part in state["contributions"]) == pytest.approx(100)
    assert found["states"][-1]["without_noise_figures"] == ["bilge fuzz"]
    assert found["states"][0]["without_noise_figures"] == []


def test_level_and_temperature() -> None:
    cold, warm = (
        document(BASS, "--all-off", "--temperature", t, "--level", "1 V")["states"][0]
        for t in ("145 K", "16.85 C")
    )
    # Every stage off it is all passive: half the temperature is half the power, 3.0103 dB.
    gone = warm["destination"]["flat_dbv"] - cold["destination"]["flat_dbv"]
    assert gone == pytest.approx(3.0103, abs=1e-4)
    assert warm["destination"]["flat_below_level_db"] == -warm["destination"]["flat_dbv"]


def test_first_sentence_names_state_size_word_and_cause() -> None:
    run = sigsim_here("noise", BASS)
    assert " ".join(run.out.split()).startswith(
        "Noisiest with 'night swell': -109.2 dBV (A-weighted) reach the amp, 89.2 dB "
        "under 100 mV (quiet); the largest part comes from 'swell' (35.7 %)."
    )
    assert "only their resistances count: 'bilge fuzz'" in " ".join(run.out.split())
    assert run.err == ""
    assert "4kT" in sigsim_here("noise", BASS, "--explain").out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--level", "0"], ["--level", "more than 0"]),
        (["--level", "-3 mV"], ["--level", "must not be negative"]),
        (["--level", "100 ohm"], ["--level", "a voltage is wanted"]),
        (["--level", "nan"], ["--level", "100 mV"]),
        (["--temperature", "0"], ["--temperature", "kelvins"]),
        (["--temperature", "-300 C"], ["--temperature", "20 C"]),
        (["--temperature", "warm"], ["--temperature", '"warm"']),
        (["--temperature", "1e9"], ["--temperature"]),
        (["--scene", "nigt swell"], ['did you mean "night swell"']),
        (["--plot", "noise.gif"], [".png .svg .pdf"]),
    ],
)
def test_bad_options(arguments: list[str], words: list[str]) -> None:
    run = sigsim_here("noise", BASS, *arguments)
    assert run.status == 2
    assert run.out == ""
    assert len(run.err.strip().splitlines()) == 1
    for word in words:
        assert word in run.err


def test_negative_noise_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "board.toml"
    path.write_text(BASS.read_text() + "\n")
    text = path.read_text().replace(
        'wiring_capacitance = "60 pF"', 'input_noise_voltage = "-5 nV/rtHz"'
    )
    path.write_text(text)
    run = sigsim_here("noise", path)
    assert run.status == 2
    assert "last dance preamp" in run.err
    assert "must not be negative" in run.err


SILENT = """
instrument = {resistance = 8e3, inductance = 3, volume_track = 250e3, volume = 0}
destination = {input_resistance = 1e6}
cables.wire = {}
chain = [{cable = "wire", length = 0}]
"""


def test_a_volume_knob_at_zero_is_no_noise_and_no_warning(tmp_path: Path) -> None:
    path = tmp_path / "silent.toml"
    path.write_text(SILENT)
    run = sigsim_here("noise", path, "--plot", tmp_path / "silent.png")
    assert (run.status, run.err) == (0, "")
    assert run.out.startswith("No noise at all reaches the amp")
    state = document(path)["states"][0]
    assert state["destination"]["flat_dbv"] is None
    assert state["instrument"]["flat_v"] is None


def test_long_and_hostile_names_fit(tmp_path: Path) -> None:
    name = "a $very$ [bold]long[/bold] name \\\\textbf that does not end " * 4
    text = BASS.read_text().replace('"swell"', f'"{name}"').replace('"storm"', f'"{name} scene"')
    path = tmp_path / "long.toml"
    path.write_text(text)
    run = sigsim_here("noise", path, "--explain", "--plot", tmp_path / "long.png")
    assert run.status == 0, run.err
    assert max(map(len, run.out.splitlines())) <= 80
    assert "[bold]long[/bold]" in run.out


def test_plot_shows_each_state_and_who_hisses_in_the_noisiest() -> None:
    found = report()
    upper, lower = draw_noise(Figure(), found)
    names = [label.get_text() for label in upper.get_yticklabels()]
    start = upper.get_xlim()[0]
    for name, bar in zip(names, upper.patches, strict=True):
        state = next(s for s in found.states if s.state.title == name.split(", ")[0])
        assert start + bar.get_width() == pytest.approx(found.below(state.destination.a_weighted))
    assert names[0] == "all off, quiet waltz"
    noisiest = found.noisiest
    whole = found.below(noisiest.destination.a_weighted)
    makers = [label.get_text() for label in lower.get_yticklabels()]
    swell = next(s for s in noisiest.shares if s.who.name == "swell")
    bar = lower.patches[makers.index("swell")]
    below = whole - 10 * np.log10(swell.a_weighted)
    assert start + bar.get_width() == pytest.approx(below)
    assert "pickup and pots" in makers
    assert "tuner" not in makers  # adds nothing that could be seen
    assert start > upper.get_xlim()[1]  # louder is further to the right
    assert "dB under" in lower.get_xlabel()


def test_plot_of_one_state_has_one_bar() -> None:
    board = parse_board(SILENT.replace("volume = 0", "volume = 5"))
    panels = draw_noise(Figure(), noise_report(board, [State("off")]))
    assert [label.get_text() for label in panels[0].get_yticklabels()] == ["off"]


# Every scene hisses as another one: the same thing on, or what is inside a loop that is out.
SAME = """
instrument = {resistance = 8e3, inductance = 3}
destination = {input_resistance = 1e6}
[[chain]]
loop = "side"
[[chain.inside]]
stage = "echo"
input_resistance = 1e6
output_resistance = 1e3
[[chain]]
stage = "drive"
input_resistance = 1e6
output_resistance = 1e3
gain = "20 dB"
[scenes]
quiet = []
hidden = ["echo"]
loud = ["drive"]
"loud too" = ["drive", "echo"]
"""


def test_combinations_that_hiss_the_same_are_one_row(tmp_path: Path) -> None:
    path = tmp_path / "same.toml"
    path.write_text(SAME)
    out = sigsim_here("noise", path).out
    merged = [[row.state.title for row in fold.rows] for fold in report(path).merged]
    assert merged == [["all off", "quiet", "hidden"], ["loud", "loud too"]]
    # The rows of how much may go on below; those of who makes it have a line.
    assert "\n all off = quiet = hidden\n" in out
    assert "\n loud = loud too\n" in out
    assert "their names joined by = (--every lists" in " ".join(out.split())
    every = sigsim_here("noise", path, "--every").out
    assert " = " not in every
    assert all(every.count(f" {name} ") for name in ("all off", "quiet", "hidden", "loud too"))
    assert len(document(path)["states"]) == 5
    (_, lower) = panels = draw_noise(Figure(), report(path))
    assert [label.get_text() for label in panels[0].get_yticklabels()] == [
        "all off, quiet, hidden", "loud, loud too",
    ]  # fmt: skip
    assert lower.patches


def test_combinations_that_differ_are_rows_of_their_own() -> None:
    found = report(BASS.with_name("ferry-guitar-big.toml"))
    for fold in found.merged:
        for other in fold.more:
            for ours, theirs in zip(fold.first.destination, other.destination, strict=True):
                assert ours == pytest.approx(theirs, rel=1e-6)
    firsts = [fold.first.destination for fold in found.merged]
    assert len(set(firsts)) == len(firsts)
