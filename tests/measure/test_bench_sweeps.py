"""A cable measured with other sweeps than the program's own file, on virtual benches.

The limit is the one promised of a total capacitance: 1 %.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from helpers.bench import Floats, Recorder, Sweep
from helpers.bench_cases import random_bench
from helpers.bench_found import known
from helpers.in_process import sigsim_here

from sigsim.measure.played import read_played
from sigsim.measure.recipes.measure import measure

PROMISED = 0.01


def _measured(recorder: Recorder, folder: Path, sweep: Path | None, number: int = 1) -> Any:
    case, _ = random_bench("cable", number)
    files = case.play(recorder, folder)
    played = None if sweep is None else read_played(sweep)
    measured = measure("cable", files, known(case), played)
    found = measured.figures["total_capacitance"]
    assert found.value == pytest.approx(case.truth["total_capacitance"], rel=PROMISED)
    assert found.low <= case.truth["total_capacitance"] <= found.high
    return measured


@pytest.mark.parametrize("fade", [0.001, 0.2])
def test_the_usual_sweep_made_by_other_code(tmp_path: Path, fade: float) -> None:
    """How long it fades is nobody's rule: hardly at all, and as long as can be."""
    _measured(Recorder(Sweep(fade=fade), 5), tmp_path, None)


@pytest.mark.parametrize(
    "sweep",
    [
        Sweep(44100, seconds=3.0),
        Sweep(96000, seconds=2.0, high=40000.0),
        Sweep(seconds=3.0, low=10.0, high=22000.0, level=-12.0, repeats=2),
        Sweep(seconds=5.0, low=40.0, high=16000.0, repeats=4, silence=0.0, pause=1.0),
        Sweep(seconds=4.0, repeats=1, pause=3.0),
    ],
    ids=["44.1 kHz", "96 kHz", "wide", "narrow", "once"],
)
def test_a_sweep_from_a_file(tmp_path: Path, sweep: Sweep) -> None:
    """One repeat tells no difference of clocks: there it is none, as of one interface."""
    recorder = Recorder(sweep, 6, clock=30.0 if sweep.repeats > 1 else 0.0)
    _measured(recorder, tmp_path, sweep.write(tmp_path / "sweep.wav"))


def test_half_a_minute_before_the_sweep(tmp_path: Path) -> None:
    sweep = Sweep(seconds=2.0)
    recorder = Recorder(sweep, 7, lead_in=30.0)
    _measured(recorder, tmp_path, sweep.write(tmp_path / "sweep.wav"))


def test_two_hundred_parts_in_a_million(tmp_path: Path) -> None:
    """The largest difference of clocks that is promised to be found, told to a tenth of it."""
    sweep = Sweep(seconds=3.0)
    recorder = Recorder(sweep, 8, clock=200.0)
    measured = _measured(recorder, tmp_path, sweep.write(tmp_path / "sweep.wav"))
    assert abs(measured.clock_ppm) < 200.0


class _OfAFile(Sweep):
    """A sweep that is played from a file, by an interface with one clock."""

    sound: Floats = np.zeros(0)

    def at(self, time: Floats, shape: tuple[float, float] = (0.0, 0.0)) -> Floats:
        # Between two samples: a shift in the frequency domain, from the first whole sample on.
        first = int(np.searchsorted(time, 0.0))
        made = np.zeros(time.size)
        made[first : first + self.sound.size] = self.sound
        late = time[first] * self.rate
        turn = np.exp(2j * np.pi * np.fft.rfftfreq(time.size) * late)
        played = np.fft.irfft(np.fft.rfft(made) * turn, time.size)
        a, b = shape
        return played + a * played**2 + b * played**3


@pytest.mark.parametrize("named", [True, False])
def test_the_file_that_the_program_writes(tmp_path: Path, named: bool) -> None:
    """Its own file, played as it is: with `--sweep`, and as the sweep of the defaults."""
    file = tmp_path / "sweep.wav"
    run = sigsim_here("sweep", file)
    assert run.status == 0, run.err
    sweep = _OfAFile()
    object.__setattr__(sweep, "sound", soundfile.read(file)[0])
    recorder = replace(Recorder(sweep, 9), clock=0.0)
    _measured(recorder, tmp_path, file if named else None)
