"""What is heard in a recording, against the circuit that the bench of the tests put in."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile
from helpers.played_back import Bench, Response, loop, rc_lowpass, resonance

from sigsim.measure.heard import hear
from sigsim.measure.played import Played, Sweep, read_played
from sigsim.measure.ratios import ratio
from sigsim.measure.response import Heard, Ratio

SHORT = Bench(seconds=2.0)
QUIET = {"noise_db": None, "hum": (), "distortion": 0.0}


def played(bench: Bench) -> Played:
    return Played.of(
        Sweep(bench.rate, bench.seconds, bench.low, bench.high, bench.level_db, bench.repeats)
    )


def heard(path: Path, bench: Bench, circuit: Response, seed: int) -> Heard:
    file = path / f"{circuit.__name__}-{seed}.wav"
    soundfile.write(file, bench.play(circuit, seed), bench.rate, subtype="PCM_24")
    return hear(file, played(bench), loop=circuit is loop)


def measured(path: Path, bench: Bench, circuit: Response) -> Ratio:
    """A loop and a thing, each with a clock and a start of its own."""
    other = replace(bench, ppm=-0.4 * bench.ppm, lead=0.3, latency=0.0071)
    return ratio(heard(path, other, circuit, 2), heard(path, bench, loop, 1))


def off(found: Ratio, circuit: Response, low: float = 30.0, high: float = 18000.0) -> np.ndarray:
    """Return T over the truth less 1, one free delay and one free gain taken out."""
    f = found.frequency
    inside = (f >= low) & (f <= high)
    f, T = f[inside], found.T[inside] / circuit(f[inside])
    phase, weight = np.unwrap(np.angle(T)), np.abs(circuit(f)) ** 2
    T = T * np.exp(-1j * f * np.sum(weight * f * phase) / np.sum(weight * f**2))
    gain = np.average(np.abs(T), weights=weight)
    return np.asarray(T / gain - 1)


@pytest.mark.parametrize("circuit", [rc_lowpass, resonance])
def test_a_circuit_comes_out_exactly_where_nothing_disturbs(
    tmp_path: Path, circuit: Response
) -> None:
    """The circuit in closed form; 24 bits and the window are all that is between."""
    found = measured(tmp_path, Bench(**QUIET, lead=1.2), circuit)  # type: ignore[arg-type]
    assert np.abs(off(found, circuit)).max() < 2e-5


@pytest.mark.parametrize("circuit", [rc_lowpass, resonance])
def test_a_circuit_comes_out_on_an_ordinary_interface(tmp_path: Path, circuit: Response) -> None:
    """The same with noise of -80 dBFS, hum of -60 dBFS, harmonics of 0.1 % and 30 ppm."""
    found = measured(tmp_path, Bench(ppm=30.0, lead=1.2), circuit)
    error = off(found, circuit)
    inside = (found.frequency >= 30.0) & (found.frequency <= 18000.0)
    size = np.abs(circuit(found.frequency[inside]))
    # In parts of the loop's level up to the plain level, where a resonance lifts it in parts of
    # itself: four times the standard error of the noise there.
    assert np.abs(error * np.minimum(size, 1)).max() < 8e-4
    assert np.quantile(np.abs(error * np.minimum(size, 1)), 0.95) < 3e-4
    assert found.sigma is not None
    z = np.abs(error) / found.sigma[inside] / np.sqrt(2)
    # The standard error is true within 20 %, hum aside, which is left out.
    assert 0.8 < np.sqrt(np.mean(z**2)) < 1.2


@pytest.mark.parametrize(
    "bench",
    [
        replace(SHORT, ppm=200.0),
        replace(SHORT, rate=44100, ppm=30.0),
        replace(SHORT, rate=96000, seconds=1.0),
        replace(SHORT, lead=30.0),
        replace(SHORT, hum=((50, -15.0), (100, -25.0), (150, -25.0))),
        replace(SHORT, hum=((60, -6.0), (180, -20.0))),
        replace(SHORT, repeats=1, seconds=4.0),
        replace(SHORT, low=100.0, high=10000.0),
    ],
    ids=["200 ppm", "44.1 kHz", "96 kHz", "lead", "hum", "loud hum", "one", "narrow"],
)
def test_what_is_unusual_is_as_sure_as_it_says(tmp_path: Path, bench: Bench) -> None:
    found = measured(tmp_path, bench, rc_lowpass)
    low, high = max(30.0, 1.3 * bench.low), 0.9 * bench.high
    error = off(found, rc_lowpass, low, high)
    inside = (found.frequency >= low) & (found.frequency <= high)
    assert found.sigma is not None
    z = np.abs(error) / found.sigma[inside] / np.sqrt(2)
    assert 0.75 < np.sqrt(np.mean(z**2)) < 1.25
    # A normal error is beyond five times its standard error once in a million.
    assert z.max() < 5


def test_clocks_are_told_apart(tmp_path: Path) -> None:
    """30 ppm of the bench; noise of -80 dBFS moves an arrival by a few picoseconds."""
    found = heard(tmp_path, replace(SHORT, ppm=30.0), loop, 1)
    assert found.clock_ppm == pytest.approx(30.0, abs=1e-3)
    assert (found.repeats, found.rate) == (3, 48000)
    # The bench puts 0.1 % of each into what it plays.
    assert found.third == pytest.approx(1e-3, rel=0.05)
    assert "50 Hz" in " ".join(found.notes)


def test_a_file_that_was_played_serves_as_the_sweep_does(tmp_path: Path) -> None:
    bench = replace(SHORT, ppm=25.0)
    soundfile.write(tmp_path / "s.wav", played(bench).sweep.samples(), 48000, subtype="PCM_24")  # type: ignore[union-attr]
    told = read_played(tmp_path / "s.wav")
    files = []
    for name, circuit, seed in (("a", loop, 1), ("b", rc_lowpass, 2)):
        file = tmp_path / f"{name}.wav"
        soundfile.write(file, bench.play(circuit, seed), 48000, subtype="PCM_24")
        files.append(hear(file, told))
    error = off(ratio(files[1], files[0]), rc_lowpass)
    assert np.sqrt(np.mean(np.abs(error) ** 2)) < 1e-3
    assert files[0].third == pytest.approx(1e-3, rel=0.1)


def test_the_channel_with_the_sweep_is_taken(tmp_path: Path) -> None:
    sound = SHORT.play(loop, 1)
    noise = np.random.default_rng(1).normal(0, 0.2, len(sound))
    soundfile.write(tmp_path / "s.wav", np.stack([noise, sound], axis=1), 48000, subtype="PCM_24")
    both = hear(tmp_path / "s.wav", played(SHORT))
    one = heard(tmp_path, SHORT, loop, 1)
    assert np.abs(both.H / one.H - 1).max() < 1e-9
    assert "channel 2 of 2" in both.notes[0]


def test_what_is_cut_at_its_end_goes_on(tmp_path: Path) -> None:
    sound, period = SHORT.play(loop, 1), SHORT.period
    for seconds, whole in ((0.5 + 2 * period + 1.0, 2), (0.5 + period + 1.0, 1)):
        soundfile.write(tmp_path / "s.wav", sound[: round(48000 * seconds)], 48000, "PCM_24")
        found = hear(tmp_path / "s.wav", played(SHORT))
        assert found.repeats == whole
        assert "whole" in found.notes[0]
        assert (found.clock_ppm is None) == (whole == 1)


def test_what_may_be_faded_otherwise_is_left_out_where_nobody_said_what_was_played(
    tmp_path: Path,
) -> None:
    """A sweep of the defaults is at 40 Hz after a second, f = low·exp(t/L)."""
    told = heard(tmp_path, Bench(), loop, 1).frequency
    assumed = hear(tmp_path / "loop-1.wav").frequency
    assert assumed[0] >= 40.0
    assert told[0] < 25.0
    assert np.array_equal(assumed, told[told >= 40.0])
