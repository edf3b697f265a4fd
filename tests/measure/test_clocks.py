"""A recording of one whole sweep beside others: what its clock may be, and what it is."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest
import soundfile
from helpers.bench import Sweep
from helpers.bench_cases import random_bench
from helpers.bench_found import known

from sigsim.measure.clocks import with_clocks
from sigsim.measure.heard import hear
from sigsim.measure.noise import notes_of, said
from sigsim.measure.played import read_played
from sigsim.measure.ratios import ratio
from sigsim.measure.recipes.measure import measure
from sigsim.measure.response import Heard

SWEEP = Sweep(seconds=2.0)
# From the start of a recording to the end of the silence behind the first sweep [s].
ONE = SWEEP.silence + SWEEP.duration + SWEEP.pause


def recorded(path: Path, ppm: float, seconds: float = SWEEP.length) -> Path:
    """Write what a clock that runs faster makes of the sweep."""
    time = np.arange(round(seconds * SWEEP.rate)) / SWEEP.rate / (1 + 1e-6 * ppm)
    draw = np.random.default_rng(1)
    sound = SWEEP.at(time) + 1e-5 * draw.standard_normal(time.size)
    soundfile.write(path, sound, SWEEP.rate, subtype="PCM_24")
    return path


@pytest.mark.parametrize("ppm", [-25.0, 25.0])
def test_one_interface_has_one_clock(tmp_path: Path, ppm: float) -> None:
    """One sweep by itself is bent: by the paper's L·ln(f/f1), late by ppm of that."""
    played = read_played(SWEEP.write(tmp_path / "sweep.wav"))
    loop, before = (hear(recorded(tmp_path / f"{n}.wav", ppm), played) for n in "ab")
    alone = hear(recorded(tmp_path / "c.wav", ppm, ONE), played)
    assert alone.clock_ppm is None
    # How fast it rises is read from the file, to some parts in a thousand.
    assert alone.growth == pytest.approx(SWEEP.L, rel=1e-2)
    f = loop.frequency
    inside = (f > 200) & (f < 15e3)
    bent = np.unwrap(np.angle((alone.H / loop.H)[inside]))
    late = -2 * np.pi * f * 1e-6 * ppm * SWEEP.L * np.log(f / SWEEP.low)
    assert np.abs(straightened(f[inside], bent - late[inside])).max() < 0.02
    mended = with_clocks({"loop": [loop], "before": [before], "with": [alone]})["with"][0]
    left = straightened(f[inside], np.unwrap(np.angle((mended.H / loop.H)[inside])))
    # 0.02 rad at 15 kHz are 0.2 µs: the clock itself is read to some hundredths of a ppm.
    assert np.abs(left).max() < 0.02
    # The others agree, so that a ppm is left of the usual 30.
    assert mended.drift == pytest.approx(1e-6 * SWEEP.L, rel=1e-2)
    assert ratio(mended, loop).drift == mended.drift


def straightened(f: np.ndarray, phase: np.ndarray) -> np.ndarray:
    """Return a phase without the delay that suits it best."""
    turn = np.polynomial.Polynomial.fit(f, phase, 1)
    return np.asarray(phase - turn(f))


def test_others_that_do_not_agree_say_little(tmp_path: Path) -> None:
    played = read_played(SWEEP.write(tmp_path / "sweep.wav"))
    loop, before = (hear(recorded(tmp_path / f"{p}.wav", p), played) for p in (-10.0, 20.0))
    alone = hear(recorded(tmp_path / "c.wav", 0.0, ONE), played)
    mended = with_clocks({"loop": [loop], "before": [before], "with": [alone]})["with"][0]
    assert mended.drift == pytest.approx(30e-6 * SWEEP.L, rel=1e-2)


@pytest.mark.parametrize("roles", [("before",), ("with",), ("loop", "before", "with")])
def test_a_cable_by_one_sweep(tmp_path: Path, roles: tuple[str, ...]) -> None:
    """The capacitance stays within the promised 1 %; clocks of ± 30 ppm made 5 % of it."""
    case, recorder = random_bench("cable", 0, SWEEP)
    recorder = dataclasses.replace(recorder, lead_in=0.5)
    files = case.play(recorder, tmp_path)
    for role in roles:
        sound, rate = soundfile.read(files[role][0])
        soundfile.write(files[role][0], sound[: round((ONE + 1.5) * rate)], rate, subtype="PCM_24")
    played = read_played(recorder.sweep.write(tmp_path / "sweep.wav"))
    found = measure("cable", files, known(case), played).figures["total_capacitance"]
    truth = float(case.truth["total_capacitance"])
    assert found.value == pytest.approx(truth, rel=0.01)
    assert found.low is not None
    assert found.high is not None
    assert found.low <= truth <= found.high


def test_hum_of_several_recordings_is_one_note() -> None:
    """Mains of 50 Hz, in one recording with its third harmonic (IEC 60038: 50 Hz)."""
    f = np.geomspace(20.0, 2e4, 50)
    hums = (((49.0, 51.0),), ((48.0, 52.0), (149.0, 151.0)))
    heard = [
        Heard(str(i), f, f + 0j, left_out=hum, notes=(str(said(hum)), "Another note."))
        for i, hum in enumerate(hums)
    ]
    notes = notes_of([*heard, Heard("quiet", f, f + 0j)])
    assert notes == ["Mains hum of 50 Hz is left out, around 50, 150 Hz.", "Another note."]
