"""Everything that can be wrong with a recording, each with its sentence (fault put in by hand)."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
import soundfile
from helpers.played_back import Bench, Response, loop, rc_lowpass, resonance

from sigsim.errors import SigsimError
from sigsim.measure.heard import hear
from sigsim.measure.played import Played, Sweep

BENCH = Bench(seconds=2.0, ppm=20.0, lead=0.2)
RATE = BENCH.rate
START = round(RATE * (BENCH.lead + 0.5 + BENCH.latency))
PERIOD = round(RATE * BENCH.period)
LENGTH = 2 * RATE


@lru_cache
def sound(circuit: Response) -> np.ndarray:
    return BENCH.play(circuit, 1)


def sentence(path: Path, samples: np.ndarray, rate: int = RATE, *, as_loop: bool = False) -> str:
    """Return what is said of a recording, empty if it is taken."""
    file = path / "r.wav"
    soundfile.write(file, samples, rate, subtype="PCM_24")
    try:
        hear(file, Played.of(Sweep(seconds=2.0)), loop=as_loop)
    except SigsimError as error:
        return error.problem.what if error.problem.where == str(file) else "elsewhere"
    return ""


@pytest.mark.parametrize("circuit", [loop, rc_lowpass, resonance])
def test_what_is_well_is_taken(tmp_path: Path, circuit: Response) -> None:
    assert sentence(tmp_path, sound(circuit), as_loop=circuit is loop) == ""


@pytest.mark.parametrize("by", [1.0, 3.0, 10.0])
@pytest.mark.parametrize("circuit", [loop, rc_lowpass, resonance])
def test_clipping(tmp_path: Path, circuit: Response, by: float) -> None:
    samples = sound(circuit)
    most = np.abs(samples).max() * 10 ** (-by / 20)
    clipped = np.clip(samples, -most, most)
    assert "clips" in sentence(tmp_path, clipped)
    assert "clips" in sentence(tmp_path, clipped / most)
    assert "clips" in sentence(tmp_path, most * np.tanh(samples / most))


def test_silence(tmp_path: Path) -> None:
    rng = np.random.default_rng(1)
    for samples in (np.zeros(10 * RATE), rng.normal(0, 1e-4, 10 * RATE)):
        assert "silent" in sentence(tmp_path, samples)


@pytest.mark.parametrize(
    "other",
    [{"seconds": 3.0}, {"low": 22.0}, {"high": 17000.0}, {"low": 100.0}, {"rate": 44100}],
    ids=str,
)
def test_another_sweep(tmp_path: Path, other: dict[str, float]) -> None:
    """One recorded at 44.1 kHz and taken for 48 kHz is another one as well."""
    samples = replace(BENCH, **other).play(loop, 1)  # type: ignore[arg-type]
    assert "is not in this recording" in sentence(tmp_path, samples)


def test_something_else(tmp_path: Path) -> None:
    time = np.arange(10 * RATE) / RATE
    noise = np.random.default_rng(1).normal(0, 0.05, len(time))
    for samples in (noise, 0.1 * np.sin(100 * np.pi * time) + 1e-3 * noise):
        assert "is not in this recording" in sentence(tmp_path, samples)


def test_another_rate(tmp_path: Path) -> None:
    assert "another sample rate" in sentence(tmp_path, sound(loop), 44100)


def test_no_whole_sweep(tmp_path: Path) -> None:
    assert "no sweep of this recording is whole" in sentence(
        tmp_path, sound(loop)[: START + LENGTH // 2]
    )


@pytest.mark.parametrize("repeat", [0, 1, 2])
@pytest.mark.parametrize("samples", [64, 512, 4096])
def test_a_dropped_block(tmp_path: Path, samples: int, repeat: int) -> None:
    whole = sound(loop)
    rng = np.random.default_rng(samples + repeat)
    at = START + repeat * PERIOD + round(LENGTH * rng.uniform(0.1, 0.9))
    lost = np.delete(whole, slice(at, at + samples))
    empty, again = whole.copy(), whole.copy()
    empty[at : at + samples] = 0.0
    again[at : at + samples] = again[at - samples : at]
    for fault in (lost, empty, again):
        assert "a piece of this recording is missing" in sentence(tmp_path, fault)


@pytest.mark.parametrize("samples", [8, 64, 4096])
def test_a_block_dropped_in_silence(tmp_path: Path, samples: int) -> None:
    at = START + PERIOD - 6000
    lost = np.delete(sound(loop), slice(at - samples, at))
    assert "a piece of this recording is missing" in sentence(tmp_path, lost)


@pytest.mark.parametrize("samples", [64, 512])
def test_a_block_dropped_in_the_only_sweep(tmp_path: Path, samples: int) -> None:
    one = sound(loop)[: START + PERIOD - RATE // 2]
    at = START + round(0.6 * LENGTH)
    assert sentence(tmp_path, one) == ""
    lost = np.delete(one, slice(at, at + samples))
    assert "a piece of this recording is missing" in sentence(tmp_path, lost)


@pytest.mark.parametrize("step", [0.11, 0.3, 6.0])
def test_an_automatic_gain(tmp_path: Path, step: float) -> None:
    gain = np.ones(len(sound(loop)))
    gain[START + PERIOD - 9600 :] = 10 ** (-step / 20)
    assert "not equally loud" in sentence(tmp_path, sound(loop) * gain)


def test_a_drift_of_gain_is_taken(tmp_path: Path) -> None:
    """Half of the 0.1 dB that is the limit."""
    gain = np.linspace(1, 10 ** (-0.05 / 20), len(sound(loop)))
    assert sentence(tmp_path, sound(loop) * gain) == ""


@pytest.mark.parametrize("milliseconds", [-50.0, -3.0, 1.5, 3.0, 12.0, 250.0])
@pytest.mark.parametrize("level", [-10.0, -20.0, -40.0])
def test_direct_monitoring(tmp_path: Path, level: float, milliseconds: float) -> None:
    late = round(abs(milliseconds) * RATE / 1000)
    second = 10 ** (level / 20) * sound(loop)
    both = sound(loop).copy()
    if milliseconds > 0:
        both[late:] += second[:-late]
    else:
        both[:-late] += second[late:]
    assert "arrives twice" in sentence(tmp_path, both, as_loop=True)


@pytest.mark.parametrize("level", [-30.0, -15.0, -6.0])
def test_hum_louder_than_the_sweep_is_a_note(tmp_path: Path, level: float) -> None:
    hum = ((50.0, level), (100.0, level - 10), (150.0, level - 10), (250.0, level - 15))
    file = tmp_path / "r.wav"
    soundfile.write(file, replace(BENCH, hum=hum).play(rc_lowpass, 1), RATE, subtype="PCM_24")
    found = hear(file, Played.of(Sweep(seconds=2.0)))
    assert "hum of 50 Hz" in " ".join(found.notes)
    for tone, _ in hum:
        assert any(low <= tone <= high for low, high in found.left_out)


def test_a_sample_that_is_no_number(tmp_path: Path) -> None:
    samples = sound(loop).copy()
    samples[1000] = np.nan
    soundfile.write(tmp_path / "r.wav", samples, RATE, subtype="FLOAT")
    with pytest.raises(SigsimError, match="not a finite number"):
        hear(tmp_path / "r.wav")


def test_a_recording_without_end(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "r.wav", np.zeros((8_000_000, 4)), RATE, subtype="PCM_U8")
    with pytest.raises(SigsimError, match="too long"):
        hear(tmp_path / "r.wav")
