"""The sweep against what its authors print, and what a file of one is taken for."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import scipy.signal
import soundfile
from helpers.played_back import wave

from sigsim.errors import SigsimError
from sigsim.measure.played import Played, Sweep, read_played
from sigsim.measure.spectra import fast_size, scaled_spectrum


def test_lengths_are_those_that_are_printed() -> None:
    """Novak 2015 and the code its authors published: 16 Hz to 16 kHz in 10 s."""
    sweep = Sweep(seconds=10.0, low=16.0, high=16000.0)
    assert sweep.folding * 16.0 == pytest.approx(23)
    assert sweep.folding == pytest.approx(1.4375)
    # Printed with five digits.
    assert sweep.duration == pytest.approx(9.9299, abs=5e-5)


@pytest.mark.parametrize("rate", [44100, 48000, 96000, 192000])
def test_it_is_the_sweep_of_the_paper(rate: int) -> None:
    """Novak 2015, equation for x(t), written again in the bench of the tests."""
    sweep = Sweep(rate=rate, seconds=2.0, repeats=2, level_db=-12.0)
    samples, start = sweep.samples(), round(0.5 * rate)
    assert not samples[:start].any()
    assert len(samples) == start + 2 * sweep.period
    for begin in (start, start + sweep.period):
        time = np.arange(sweep.period) / rate
        # Another order of rounding; the phase is some 10⁵ radians at most.
        expected = 10 ** (-12 / 20) * wave(time, 20.0, 20000.0, 2.0, 0.0, math.inf)
        assert np.abs(samples[begin : begin + sweep.period] - expected).max() < 1e-9
    assert np.abs(samples).max() == pytest.approx(10 ** (-12 / 20), rel=1e-3)


def test_a_harmonic_is_the_sweep_earlier() -> None:
    """The property it is named for (Novak 2015): n times its phase is its phase L·ln n later."""
    sweep = Sweep(seconds=4.0)
    time = np.linspace(0.1, 1.0, 1000)
    phase = 2 * np.pi * sweep.low * sweep.folding * np.exp(time / sweep.folding)
    for order in (2, 3, 5):
        later = time + sweep.folding * math.log(order)
        there = 2 * np.pi * sweep.low * sweep.folding * np.exp(later / sweep.folding)
        assert np.abs(np.sin(there) - np.sin(order * phase)).max() < 1e-8
    assert sweep.folding * sweep.low == pytest.approx(round(sweep.folding * sweep.low))


@pytest.mark.parametrize(
    ("options", "where", "accepted"),
    [
        ({"rate": 4000}, "rate", "8000 to 192000"),
        ({"seconds": 0.5}, "seconds", "1 to 60"),
        ({"seconds": math.nan}, "seconds", "1 to 60"),
        ({"low": 4.0}, "low", "5 to"),
        ({"low": 3000.0}, "low", "to 2208"),
        ({"high": 100.0}, "high", "200 to"),
        ({"high": 23000.0}, "high", "to 22080"),
        ({"level_db": 1.0}, "level_db", "-60 to 0"),
        ({"repeats": 21}, "repeats", "1 to 20"),
    ],
)
def test_a_sweep_that_cannot_be_is_refused(
    options: dict[str, float], where: str, accepted: str
) -> None:
    with pytest.raises(SigsimError) as caught:
        Sweep(**options)  # type: ignore[arg-type]
    assert caught.value.problem.where == where
    assert accepted in caught.value.problem.accepted


def test_scaled_spectra_are_those_of_a_reference() -> None:
    """The chirp-z transform of scipy.signal."""
    samples = np.random.default_rng(1).normal(size=3001)
    size, factor = 4096, 1 + 1.7e-4
    turn = np.exp(-2j * np.pi * factor / size)
    expected = scipy.signal.czt(samples, size // 2 + 1, turn)
    # Sums of some 3,000 numbers of size 1.
    assert np.abs(scaled_spectrum(samples, size, factor) - expected).max() < 1e-8


def test_a_clock_that_runs_faster_sees_the_same_sweep_in_a_file() -> None:
    """The sweep made anew at the other clock against the chirp-z transform of its samples."""
    made = Played.of(Sweep(seconds=2.0))
    filed = Played(
        "x", made.rate, made.low, made.high, made.wave, made.period, 3, made.folding, None
    )
    size = fast_size(len(made.wave) + 4000)
    for clock in (2e-4, -3e-5):
        one, other = made.spectrum(size, clock), filed.spectrum(size, clock)
        inside = slice(int(30 * size / 48000), int(19000 * size / 48000))
        # Beyond 24 kHz the samples have nothing and the sweep a little of its fade.
        assert np.abs(one[inside] / other[inside] - 1).max() < 1e-5


@pytest.mark.parametrize("least", [1, 2, 17, 1000, 65537, 576001])
def test_sizes_are_quick_ones(least: int) -> None:
    """All small enough are tried."""
    size = fast_size(least)
    rest = size
    for prime in (2, 3, 5):
        while rest % prime == 0:
            rest //= prime
    assert size >= least
    assert rest == 1
    assert size % 2 == 0
    assert size <= 1.1 * least + 2


def _written(path: Path, sound: np.ndarray, rate: int = 48000) -> Path:
    soundfile.write(path, sound, rate, subtype="PCM_24")
    return path


def test_a_file_of_the_sweep_is_understood(tmp_path: Path) -> None:
    sweep = Sweep(seconds=4.0)
    played = read_played(_written(tmp_path / "s.wav", sweep.samples()))
    assert (played.period, played.repeats, played.rate) == (sweep.period, 3, 48000)
    assert played.folding == pytest.approx(sweep.folding, rel=5e-3)
    # Its ends are told by twelfths of an octave.
    assert played.low == pytest.approx(20.0, rel=0.06)
    assert played.high == pytest.approx(20000.0, rel=0.06)


def test_one_sweep_without_silence_is_understood(tmp_path: Path) -> None:
    """An exponential sweep of scipy.signal, which is not synchronised and not faded."""
    time = np.arange(3 * 48000) / 48000
    sound = 0.1 * scipy.signal.chirp(time, 30.0, 3.0, 15000.0, method="logarithmic")
    played = read_played(_written(tmp_path / "s.wav", sound))
    assert (played.period, played.repeats) == (None, 1)
    # T/ln(f2/f1), Farina 2000.
    assert played.folding == pytest.approx(3.0 / math.log(500.0), rel=1e-2)


def test_noise_is_no_sweep_but_can_be_played(tmp_path: Path) -> None:
    sound = 0.1 * np.random.default_rng(3).normal(size=3 * 48000)
    played = read_played(_written(tmp_path / "s.wav", sound))
    assert played.folding is None
    assert played.high > 15000.0


def test_what_cannot_have_been_played_is_refused(tmp_path: Path) -> None:
    time = np.arange(48000) / 48000
    tone = 0.1 * np.sin(2 * np.pi * 440 * time)
    for name, sound, words in (
        ("silent", np.zeros(48000), "silent"),
        ("short", Sweep().wave()[:12000], "too short"),
        ("tone", tone, "too little of the band"),
    ):
        with pytest.raises(SigsimError, match=words) as caught:
            read_played(_written(tmp_path / f"{name}.wav", sound))
        assert name in caught.value.problem.where
