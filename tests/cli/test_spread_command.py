"""`sigsim spread` as a user runs it: numbers, words, repeats, bad input, names of any length."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from helpers.in_process import sigsim_here
from helpers.program import EXAMPLES, sigsim
from matplotlib.figure import Figure

from sigsim.board.reader import read_board
from sigsim.decide.loss.report import loss_report
from sigsim.decide.spread.report import SpreadQuestion, spread_report
from sigsim.show.plots.spread import draw_spread

BASS = EXAMPLES / "ferry-bass.toml"
METRICS = ("treble_loss_db", "level_db", "corner_hz", "resonance_hz", "resonance_db")


def document(*arguments: object) -> dict[str, Any]:
    run = sigsim_here("spread", *arguments, "--json")
    assert run.status == 0, run.err
    found: dict[str, Any] = json.loads(run.out)
    return found


def test_every_state_has_its_numbers_and_they_hold_what_is_written() -> None:
    found = document(BASS, "--draws", "300", "--worst-case", "--corners", "3")
    board = read_board(BASS)
    names = ["every stage off", *board.scenes]
    assert [state["name"] for state in found["states"]] == names
    assert found["worst"]["name"] == "every stage off"
    states = [
        board.state(state["on"], name) for name, state in zip(names, found["states"], strict=True)
    ]
    exact = loss_report(board, states)
    for state, other in zip(found["states"], exact.states, strict=True):
        assert state["treble_loss_db"]["written"] == pytest.approx(other.treble_loss, abs=1e-6)
        assert state["corner_hz"]["written"] == pytest.approx(other.corner, abs=0.1)
        assert 0 <= state["over_limit_probability"] <= 1
        sizes = [abs(i["rank_correlation"]["treble_loss_db"]) for i in state["influences"]]
        assert sizes == sorted(sizes, reverse=True)
        for metric in METRICS:
            number, bound = state[metric], state["worst_case"][metric]
            if number["p5"] is not None:
                assert bound["lowest"] <= number["p5"] <= number["p50"] <= number["p95"]
                assert number["p95"] <= bound["highest"]
    assert {q["place"] for q in found["quantities"]} >= {"instrument", "cable patch", "tuner"}


def test_repeats_bit_for_bit_from_the_same_seed() -> None:
    arguments = ("spread", BASS, "--draws", "200", "--all-off", "--json", "--seed")
    first, again = (run(*arguments, 4).out for run in (sigsim, sigsim_here))  # two processes
    assert first == again
    assert first != sigsim_here(*arguments, 5).out


def test_first_sentence_names_state_size_and_word() -> None:
    run = sigsim_here("spread", BASS, "--explain")
    text = " ".join(run.out.split())
    assert text.startswith(
        "Worst with all off: 9 of 10 such boards lose 7.8 to 9.3 dB of treble (heavy), half "
        "of them more than 8.6 dB; all lose more than 3 dB; what matters most is the loss "
        "resistance of the instrument."
    )
    assert "Spearman" in text


BARE = """
instrument = {type = "active", output_resistance = "10 kΩ"}
destination = {input_resistance = "1 MΩ"}
cables.lead = {capacitance = "100 pF/m"}
chain = [{cable = "lead", length = "5 m"}, {cable = "lead", length = "5 m"}]
"""


def test_a_board_without_tolerances_is_offered_the_usual_ones(tmp_path: Path) -> None:
    path = tmp_path / "bare.toml"
    path.write_text(BARE)
    run = sigsim_here("spread", path)
    assert run.status == 2
    assert run.out == ""
    assert "no quantity of this board carries a tolerance" in run.err
    offered = run.err.split("--tolerance ")[1].split()[0]
    assert sigsim_here("spread", path, "--tolerance", offered, "--draws", "50").status == 0


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--draws", "0"], ["--draws", "at least one"]),
        (["--draws", "-5"], ["--draws", "at least one"]),
        (["--draws", "100000000"], ["--draws", "100,000,000", "1 to 200,000"]),
        (["--tolerance", "resistence=5"], ["--tolerance", 'did you mean "resistance"?']),
        (["--tolerance", "resistance=101"], ["--tolerance", "between 0 and 100 %"]),
        (["--tolerance", "resistance=-1"], ["--tolerance", "between 0 and 100 %"]),
        (["--tolerance", "resistance"], ["--tolerance", "between 0 and 100 %"]),
        (["--tolerance", "resistance=nan"], ["--tolerance", "between 0 and 100 %"]),
        (["--tolerance", "length=1,length=2"], ["given twice"]),
        (["--limit", "inf"], ["--limit"]),
        (["--plot", "spread.gif"], [".png .svg .pdf"]),
    ],
)
def test_bad_options(arguments: list[str], words: list[str]) -> None:
    run = sigsim_here("spread", BASS, *arguments)
    assert run.status == 2
    assert run.out == ""
    assert len(run.err.strip().splitlines()) == 1
    for word in words:
        assert word in run.err


@pytest.mark.parametrize("arguments", [["--draws", "1e8"], ["--seed", "-1"], ["--corners", "13"]])
def test_bad_numbers(arguments: list[str]) -> None:
    run = sigsim_here("spread", BASS, *arguments)
    assert (run.status, run.out) == (2, "")
    assert arguments[0] in run.err


def test_a_tolerance_over_a_hundred_percent_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "bare.toml"
    path.write_text(BARE.replace("10 kΩ", "10 kΩ ± 150 %"))
    run = sigsim_here("spread", path)
    assert run.status == 2
    assert "[instrument], output_resistance: a tolerance lies between 0 and 100 %" in run.err


@pytest.mark.parametrize("draws", ["1", "2", "3"])
def test_few_draws_of_the_widest_tolerances_give_no_warning(draws: str) -> None:
    kinds = ("resistance", "capacitance", "inductance", "length", "frequency", "gain", "ratio",
             "exponent", "knob")  # fmt: skip
    wide = ",".join(f"{kind}=100" for kind in kinds)
    for board in ("ferry-guitar-big.toml", "ferry-guitar-vintage.toml", "ferry-bass-active.toml"):
        arguments = ("--draws", draws, "--tolerance", wide, "--worst-case", "--corners", "2")
        run = sigsim_here("spread", EXAMPLES / board, *arguments, "--all-off", "--normal")
        assert (run.status, run.err) == (0, "")


def test_a_volume_knob_at_zero_says_so(tmp_path: Path) -> None:
    path = tmp_path / "silent.toml"
    path.write_text(BASS.read_text().replace("volume = 10", "volume = 0"))
    plot = tmp_path / "silent.png"
    run = sigsim_here(
        "spread", path, "--draws", "70", "--worst-case", "--corners", "2", "--plot", plot
    )
    assert (run.status, run.err) == (0, "")
    assert "nothing comes out: the instrument's volume knob is at 0." in run.out.replace("\n", " ")
    assert plot.exists()
    state = document(path, "--draws", "70", "--all-off")["states"][0]
    assert state["treble_loss_db"]["p50"] is None
    assert state["treble_loss_db"]["none_probability"] == 1


def test_long_and_hostile_names_fit(tmp_path: Path) -> None:
    name = "a $very$ [bold]long[/bold] name \\\\textbf that does not end " * 4
    text = BASS.read_text().replace('"swell"', f'"{name}"').replace('"storm"', f'"{name} scene"')
    text = text.replace("cables.patch", f'cables."{name}"').replace('"patch"', f'"{name}"')
    path = tmp_path / "long.toml"
    path.write_text(text)
    asked = ["--draws", "70", "--worst-case", "--corners", "2", "--explain"]
    run = sigsim_here("spread", path, *asked, "--plot", tmp_path / "long.png")
    assert run.status == 0, run.err
    assert max(map(len, run.out.splitlines())) <= 80
    assert "[bold]" in run.out


def test_plot_is_an_interval_for_each_state_and_the_curves_of_the_one_told_of() -> None:
    board = read_board(BASS)
    states = board.named_states()
    question = SpreadQuestion(board=board, draws=200, curves=True)
    found = spread_report(question, states)
    upper, lower = draw_spread(Figure(figsize=(6.3, 5.1)), found)
    names = [label.get_text() for label in upper.get_yticklabels()]
    assert names[0] == "all off, quiet waltz"
    assert len(names) == len({board.heard(state.on) for state in states})
    intervals = [line.get_xdata() for line in upper.lines if line.get_label() == "interval"]
    storm = next(state for state in found.states if state.state.name == "storm").loss
    np.testing.assert_allclose(intervals[names.index("storm")], [storm.low, storm.high])
    assert "(dB)" in upper.get_xlabel()
    (median,) = [line for line in lower.lines if line.get_label() == "median"]
    assert found.told.curves is not None
    np.testing.assert_allclose(median.get_ydata(), found.told.curves.middle)
    (band,) = lower.collections
    edges = band.get_paths()[0].vertices
    assert edges[:, 1].min() < np.min(median.get_ydata())
    assert edges[:, 1].max() > np.max(median.get_ydata())
    assert lower.get_ylabel() == "gain (dB)"


def test_figures_without_a_tolerance_are_named_the_cables_first(tmp_path: Path) -> None:
    """What the file itself gives without ±: no more and no less, by what its text says."""
    path = tmp_path / "board.toml"
    path.write_text(
        '[instrument]\npart = "guitar-single-coil"\nvolume = 9\n'
        '[destination]\npart = "valve-amplifier-input"\ninput_resistance = "1 MΩ"\n'
        '[cables.lead]\ncapacitance = "33 pF/ft"\nplug_capacitance = "5 pF ± 0 %"\n'
        '[cables.patch]\npart = "cable-patch"\n'
        '[wiring]\ncable = "patch"\nlength = "20 cm ± 5 %"\n'
        '[[chain]]\ncable = "lead"\nlength = "15 ft"\n'
    )
    said = " ".join(sigsim_here("spread", path, "--draws", "70").out.split())
    assert (
        "Taken as exact, because no ± is written: 'lead' capacitance, 'amp' input resistance, "
        "1 length and 1 knob." in said
    )
    exact = document(path, "--draws", "70")["exact_quantities"]
    assert {(e["place"], e["key"]) for e in exact} == {
        ("cable lead", "capacitance"), ("amp", "input_resistance"),
        ("the 15 ft of lead", "length"), ("instrument", "volume"),
    }  # fmt: skip
    # One foot is 0.3048 m exactly (international yard, 1959).
    lead = next(e["value"] for e in exact if e["place"] == "cable lead")
    assert lead == pytest.approx(33e-12 / 0.3048)
    given = document(path, "--draws", "70", "--tolerance", "capacitance=10,knob=1")
    assert {e["key"] for e in given["exact_quantities"]} == {"input_resistance", "length"}


def test_many_figures_without_a_tolerance_take_two_lines_and_count_the_rest(
    tmp_path: Path,
) -> None:
    stages = "".join(
        f'[[chain]]\nstage = "box {n}"\ninput_resistance = "1 MΩ"\noutput_resistance = "1 kΩ"\n'
        for n in range(20)
    )
    path = tmp_path / "board.toml"
    path.write_text(
        '[instrument]\nresistance = "7 kΩ ± 10 %"\ninductance = "3 H"\n'
        f'[destination]\ninput_resistance = "1 MΩ"\n{stages}'
    )
    out = sigsim_here("spread", path, "--draws", "70", "--all-off").out
    lines = out[out.index("Taken as exact") :].split("\n\n")[0].splitlines()
    assert len(lines) <= 2
    assert lines[-1].endswith("more.")
    count = int(lines[-1].split()[-2])
    named = " ".join(lines).count("'") // 2
    exact = document(path, "--draws", "70", "--all-off")["exact_quantities"]
    assert named + count == len(exact) == 2 + 2 * 20


def test_intervals_are_solid_in_the_colours_of_the_scenes() -> None:
    """A dash would look like an interval with gaps; the colour still tells the scenes apart."""
    board = read_board(BASS)
    found = spread_report(SpreadQuestion(board=board, draws=70), board.named_states())
    (axes,) = draw_spread(Figure(figsize=(6.3, 5.1)), found)
    intervals = [line for line in axes.lines if line.get_label() == "interval"]
    assert {line.get_linestyle() for line in intervals} == {"-"}
    assert len({line.get_color() for line in intervals}) == len(intervals) > 1
