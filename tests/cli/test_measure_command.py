"""`sigsim sweep` and `sigsim measure`: what they take, what they refuse, and what they print.

What a recipe finds is tested in `tests/measure`; here most results are made by hand. What is asked
for and printed is what the manual says of the commands, reference/manual/commands.md.
"""

from __future__ import annotations

import json
import wave
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from helpers.in_process import sigsim_here
from helpers.results import measured_cable, measured_pickup

from sigsim.cli.measuring import QUANTITIES
from sigsim.cli.wiring import WIRING, option
from sigsim.measure.known import Across, Known
from sigsim.measure.recipes import RECIPES
from sigsim.measure.recipes import measure as recipes
from sigsim.measure.result import Measured
from sigsim.units import Quantity

CABLE = ("cable", "--loop", "loop.wav", "--before", "before.wav", "--with", "with.wav")
COIL = ("pickup", "--open", "loop.wav", "--loaded", "with.wav")


class Asked:
    """Stands for the recipes, and keeps what they were asked."""

    def __init__(self, result: Measured) -> None:
        self.result = result
        self.files: Mapping[str, Sequence[str]] = {}
        self.known = Known()

    def __call__(
        self, recipe: str, files: Mapping[str, Sequence[str]], known: Known, *_: Any
    ) -> Measured:
        assert recipe in RECIPES
        self.files, self.known = files, known
        return self.result


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a folder with small recordings and tables, and go there."""
    monkeypatch.chdir(tmp_path)
    for name in ("loop", "before", "with", "half", "more"):
        with wave.open(f"{name}.wav", "wb") as file:
            file.setparams((1, 2, 48_000, 0, "NONE", ""))
            file.writeframes(bytes(200))
        Path(f"{name}.csv").write_text("frequency_hz,gain_db,phase_deg\n", encoding="utf-8")
    return tmp_path


@pytest.fixture
def asked(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Asked:
    found = Asked(measured_cable())
    monkeypatch.setattr(recipes, "measure", found)
    return found


# The test signal


def test_the_test_signal_is_the_one_that_is_promised(folder: Path) -> None:
    """The manual: 0.5 s of silence, three times 10 s and 2 s of silence, peak -20 dB, 24 bits."""
    run = sigsim_here("sweep", "sweep.wav")
    assert run.status == 0, run.err
    info = soundfile.info("sweep.wav")
    assert (info.samplerate, info.channels, info.subtype) == (48_000, 1, "PCM_24")
    samples, rate = soundfile.read("sweep.wav")
    # A sweep has a whole number of first periods [1/20 s], so that three may be 0.2 s off.
    assert samples.size / rate == pytest.approx(36.5, abs=0.2)
    assert not samples[: rate // 2].any()
    assert samples[rate // 2 :].any()
    # One step of 24 bits.
    assert np.abs(samples).max() == pytest.approx(0.1, abs=1e-4)
    assert "monitors and headphones off" in " ".join(run.out.split())
    assert "direct monitoring off" in " ".join(run.out.split())
    assert "--sweep" not in run.out


def test_a_signal_of_another_kind_is_to_be_named_when_measuring(folder: Path) -> None:
    run = sigsim_here("sweep", "short.wav", "--seconds", "2", "--repeat", "1", "--rate", "44100")
    assert run.status == 0, run.err
    assert soundfile.info("short.wav").duration == pytest.approx(4.5, abs=0.1)
    assert "--sweep short.wav" in run.out


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("sweep.flac",), "a WAV file"),
        (("sweep.wav", "--to", "30 kHz"), "--to: "),
        (("sweep.wav", "--from", "3 kHz"), "--from: "),
        (("sweep.wav", "--level", "3"), "--level: "),
        (("sweep.wav", "--level", "nan"), "--level: "),
        (("sweep.wav", "--seconds", "inf"), "--seconds: "),
        (("sweep.wav", "--repeat", "0"), "--repeat: "),
        (("sweep.wav", "--rate", "1000"), "--rate: "),
        (("nowhere/sweep.wav",), "no such folder"),
        (("loop.wav",), "--force"),
    ],
)
def test_a_signal_that_cannot_be_made_is_refused(
    arguments: tuple[str, ...], said: str, folder: Path
) -> None:
    before = sorted(folder.iterdir())
    run = sigsim_here("sweep", *arguments)
    assert run.status == 2
    assert said in run.err
    assert run.err.count("\n") == 1
    assert sorted(folder.iterdir()) == before


# What is known


def test_what_is_known_reaches_the_recipe(asked: Asked) -> None:
    run = sigsim_here(
        "measure", *CABLE, "--resistor", "100 kΩ ± 0.5 %", "--output-resistance", "75",
        "--interface-input", "1M", "--length", "20 ft", "--plug-capacitance", "5 pF ± 50 %",
    )  # fmt: skip
    assert run.status == 0, run.err
    known = asked.known
    assert known.resistor == Quantity(1e5, 0.005)
    assert known.output_resistance == Quantity(75.0)
    assert known.interface_input == Quantity(1e6)
    assert known.length is not None
    assert known.length.value == pytest.approx(6.096)  # of 0.3048 m each, by definition
    assert known.plug_capacitance == Quantity(5e-12, 0.5)
    assert known.volume_track is None
    assert {role: tuple(files) for role, files in asked.files.items()} == {
        "loop": ("loop.wav",), "before": ("before.wav",), "with": ("with.wav",),
    }  # fmt: skip


def test_a_part_that_was_bought_is_never_exact_unless_it_is_said(asked: Asked) -> None:
    assert sigsim_here("measure", *CABLE, "--resistor", "100k").status == 0
    assert asked.known.resistor == Quantity(1e5, 0.01)
    assert sigsim_here("measure", *CABLE, "--resistor", "100 kΩ ± 0 %").status == 0
    assert asked.known.resistor == Quantity(1e5, 0.0)


def test_loads_are_in_the_order_of_the_recordings(asked: Asked) -> None:
    asked.result = measured_pickup()
    run = sigsim_here(
        "measure", *COIL, "--loaded", "more.wav", "--load", "10n", "--load", "200 kΩ ± 2 %",
        "--probe", "450 pF, 1M",
    )  # fmt: skip
    assert run.status == 0, run.err
    assert asked.files["loaded"] == ("with.wav", "more.wav")
    assert asked.known.loads == (
        Across(capacitance=Quantity(10e-9, 0.01)),
        Across(resistance=Quantity(200e3, 0.02)),
    )
    assert asked.known.probe == Across(Quantity(1e6), Quantity(450e-12))


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ("10", "Ω or F"),
        ("10 H", "neither"),
        ("10 F", "10 mF"),
        ("10 PF", "pF"),
        ("-1 kΩ", "negative"),
        ("nan", "neither"),
        ("1 kΩ, 2 kΩ", "two"),
        ("1 MΩ, 450 pF", "one part"),
        ("1 kΩ ± x %", "tolerance"),
        ("1 kΩ,", "neither"),
    ],
)
def test_what_is_no_load_is_refused(given: str, said: str, asked: Asked) -> None:
    asked.result = measured_pickup()
    run = sigsim_here("measure", *COIL, "--load", given)
    if given == "10":  # ten farads cannot be meant, so it is ten ohms
        assert asked.known.loads == (Across(resistance=Quantity(10.0, 0.01)),)
        return
    assert run.status == 2
    assert run.err.startswith("sigsim: --load: ")
    assert said in run.err


@pytest.mark.parametrize("known", QUANTITIES, ids=lambda known: known.name)
def test_what_is_no_quantity_is_refused_by_its_option(known: Any, folder: Path) -> None:
    run = sigsim_here("measure", *CABLE, known.name, "seven")
    assert run.status == 2
    assert run.err.startswith(f"sigsim: {known.name}: ")
    assert "accepted" in run.err


# What does not go together


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("cabel",), 'did you mean "cable"?'),
        (("cable",), "--loop (interface output"),
        (("cable", "--with", "with.wav"), "--before (the wire off"),
        (("cable", "--before", "before.csv", "--with", "with.wav"), "--loop"),
        (("pickup",), "or else --open (a coil"),
        (("pickup", "--open", "loop.wav"), "--loaded (the same with a --load"),
        (("pickup", "--loop", "loop.wav", "--loaded", "with.wav"), "different ways"),
        (("output", "--with", "with.wav"), "--before (the output that is tested"),
        (("output", "--loop", "loop.wav"), "has no place"),
        ((*CABLE, "--half", "half.wav"), "--half: measure cable has no place"),
        ((*CABLE, "--volume-track", "250k"), "--volume-track"),
        ((*CABLE, "--load", "10n"), "--load"),
        ((*COIL, "--load", "10n", "--resistor", "100k"), "--resistor"),
        ((*COIL,), "1 --loaded and 0 --load"),
        ((*COIL, "--load", "10n", "--load", "5n"), "1 --loaded and 2 --load"),
        (("output", "--before", "before.wav", "--with", "with.wav"), "0 --load"),
        (("cable", "--loop", "loop.wav", "--before", "before.wav", "--with", "./loop.wav"),
         "already --loop"),
        ((*CABLE, "--as", "lead"), "--as: this does nothing without --write"),
        ((*CABLE, "--write", "board.toml"), "--as"),
        (("cable", "--before", "before.csv", "--with", "with.csv", "--sweep", "loop.wav"),
         "--sweep"),
        ((*CABLE, "--plot", "plot.gif"), "--plot"),
        ((*CABLE, "--plot-size", "9x9"), "--plot"),
        ((*CABLE, "--loss-exponent", "2"), "--loss-exponent"),
        ((*CABLE, "--length", ""), "--length"),
    ],
)  # fmt: skip
def test_what_does_not_go_together_is_refused_in_one_sentence(
    arguments: tuple[str, ...], said: str, asked: Asked, folder: Path
) -> None:
    before = sorted(folder.iterdir())
    run = sigsim_here("measure", *arguments)
    assert run.status == 2
    assert said in run.err
    assert run.out == ""
    assert run.err.count("\n") == 1
    assert not asked.files
    assert sorted(folder.iterdir()) == before


def test_all_that_is_missing_is_said_at_once() -> None:
    said = sigsim_here("measure", "cable").err
    for role, how in WIRING["cable"].items():
        assert f"{option(role)} ({how})" in said


def test_a_recording_that_is_not_there_is_refused(folder: Path) -> None:
    run = sigsim_here("measure", *CABLE[:-1], "wiht.wav")
    assert run.status == 2
    assert 'no such file; did you mean "with.wav"?' in run.err


# Help


def test_every_recording_of_every_recipe_has_its_wiring() -> None:
    assert {name: set(roles) for name, roles in WIRING.items()} == {
        name: set(recipe.roles) for name, recipe in RECIPES.items()
    }


@pytest.mark.parametrize("recipe", WIRING)
def test_help_behind_a_recipe_is_about_that_recipe(recipe: str) -> None:
    run = sigsim_here("measure", recipe, "--help")
    assert run.status == 0
    assert max(map(len, run.out.splitlines())) <= 80
    text = " ".join(run.out.split())
    assert f"sigsim measure [OPTIONS] {recipe}" in text
    for role in ("loop", "before", "with", "half", "open", "loaded"):
        assert (f" {option(role)} " in text) == (role in RECIPES[recipe].roles)
    for known in QUANTITIES:
        # The word before it: an option may be named in the help of another.
        listed = any(line.startswith(f"  {known.name} ") for line in run.out.splitlines())
        assert listed == (known.field in RECIPES[recipe].options), known.name


# What is printed


def test_the_answer_comes_first_and_fits_a_terminal(asked: Asked) -> None:
    run = sigsim_here("measure", *CABLE, "--length", "6 m")
    lines = run.out.splitlines()
    assert lines[0] == "This cable has 589 pF, 96.6 pF per metre: a usual one."
    assert max(map(len, lines)) <= 80
    text = " ".join(run.out.split())
    assert "capacitance per metre 96.6 pF/m 95.2 to 98.1 pF/m" in text
    assert "less than 0.011" in text
    assert "output resistance 150 Ω ± 100 % assumed" in text
    assert "length 6 m exact given" in text
    assert "Not told apart: loss in the insulation (tangent) and capacitance per metre" in text
    assert "49 to 51 Hz" in text
    assert "[cables." in run.out
    assert run.err == "note: resistance and inductance of a cable are not measured\n"


def test_json_has_null_where_there_is_only_a_bound(asked: Asked) -> None:
    found = json.loads(sigsim_here("measure", *CABLE, "--json").out)
    assert found["recipe"] == "cable"
    assert found["files"] == {"loop": "loop.wav", "before": "before.wav", "with": "cable.wav"}
    assert found["figures"]["loss_tangent"] == {
        "value": None, "low": None, "high": 0.011, "unit": "",
    }  # fmt: skip
    assert found["figures"]["total_capacitance"]["value"] == 589.3e-12
    assert found["assumed"]["resistor"] == {"value": 1e5, "tolerance": 0.005, "given": True}
    assert found["not_told_apart"] == [["loss_tangent", "capacitance"]]
    assert found["left_out_hz"] == [[49.0, 51.0], [99.0, 101.0]]
    assert found["clock_ppm"] == -31.2
    assert found["toml"].startswith("[cables.")


@pytest.mark.parametrize("ending", ["png", "svg", "pdf"])
def test_the_plot_says_its_answer_in_words(ending: str, asked: Asked) -> None:
    run = sigsim_here("measure", *CABLE, "--plot", f"plot.{ending}")
    assert run.status == 0, run.err
    assert b"This cable has 589 pF" in Path(f"plot.{ending}").read_bytes() or ending == "pdf"


def test_what_was_written_is_said(
    asked: Asked, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from sigsim.cli import writing

    checked: list[tuple[str, str, str]] = []
    monkeypatch.setattr(writing, "check_target", lambda *given: checked.append(given))
    monkeypatch.setattr(writing, "write_measured", lambda *_: ["board.toml: one line changed"])
    asking = ("measure", *CABLE, "--length", "6 m", "--write", "board.toml", "--as", "lead")
    run = sigsim_here(*asking)
    assert checked == [("board.toml", "lead", "cable")]
    assert run.out.endswith("board.toml: one line changed\n")
    run = sigsim_here(*asking, "--json")
    json.loads(run.out)
    assert "note: board.toml: one line changed\n" in run.err


# From a table to figures


def table(name: str, farads: float) -> None:
    """Write what a capacitance does behind 100 kΩ beside 1 MΩ, by Ohm's law."""
    f = np.geomspace(20, 20_000, 300)
    ratio = 1 / (1 + (1e5 + 150) * (1e-6 + 2j * np.pi * f * farads))
    ratio *= 1 + 150 * (1e-6 + 2j * np.pi * f * 200e-12)
    rows = zip(f, 20 * np.log10(abs(ratio)), np.degrees(np.angle(ratio)), strict=True)
    text = "".join(f"{x},{y},{z}\n" for x, y, z in rows)
    Path(name).write_text(f"frequency_hz,gain_db,phase_deg\n{text}", encoding="utf-8")


def test_a_cable_is_measured_from_ratios_of_another_analyser(folder: Path) -> None:
    """Ohm's law: 200 pF of lead and input, and a cable of 600 pF beside them."""
    table("before.csv", 200e-12)
    table("with.csv", 800e-12)
    given = ("--before", "before.csv", "--with", "with.csv", "--length", "6 m", "--json")
    run = sigsim_here("measure", "cable", *given)
    assert run.status == 0, run.err
    found = json.loads(run.out)
    # The accuracy that measuring promises for a cable: 1 %.
    assert found["figures"]["total_capacitance"]["value"] == pytest.approx(600e-12, rel=0.01)
    assert found["point"]["input_capacitance"]["value"] == pytest.approx(200e-12, rel=0.01)
