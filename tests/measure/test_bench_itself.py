"""The virtual bench records what it says: checked with plain spectra, without the program."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from helpers.bench import Floats, Recorder, Sweep
from helpers.bench_circuits import Socket, capacitor, resistor
from numpy.typing import NDArray
from scipy import fft

# One repeat: the spectrum of several has gaps.
SWEEP = Sweep(seconds=2.0, repeats=1, pause=3.0)
CLEAN = Recorder(SWEEP, 1, -300.0, -300.0, 50.0, 0.0, 0.0, 0.0, 0.0, 0.0)
SOCKET = Socket(output_resistance=200.0, input_resistance=1e6, input_capacitance=0.0, length=0.0)


def _spectrum(sound: Floats) -> tuple[Floats, NDArray[np.complex128]]:
    frequency = fft.rfftfreq(sound.size, 1 / SWEEP.rate)
    inside = (frequency > 40) & (frequency < 18e3)
    return frequency[inside], fft.rfft(sound)[inside]


def test_a_ratio_is_that_of_a_voltage_divider() -> None:
    """100 kΩ into 1 MΩ and 600 pF, by Ohm's law; 1e-5 is the cubic between the points solved."""
    loop = SOCKET.point(0.0)
    divider = SOCKET.point(100e3, capacitor(600e-12))
    frequency, below = _spectrum(CLEAN.heard(loop, "a"))
    _, above = _spectrum(CLEAN.heard(divider, "b"))
    Y = 1e-6 + 2j * np.pi * frequency * 600e-12
    expected = (1 + 200 * 1e-6) / (1 + 100200 * Y)
    np.testing.assert_allclose(above / below, expected, rtol=1e-5)


def test_noise_hum_and_gain_have_their_levels() -> None:
    """In the silence, of noise and hum alone, and in the recording's peak."""
    quiet = resistor(1e-3)
    noisy = replace(CLEAN, noise=-80.0).heard(SOCKET.point(100e3, quiet), "n")
    assert abs(20 * np.log10(np.std(noisy)) + 80) < 0.1  # a million samples: 0.01 dB
    hum = replace(CLEAN, hum=-60.0).heard(SOCKET.point(100e3, quiet), "n")
    size = 2 * np.abs(np.mean(hum * np.exp(-100j * np.pi * np.arange(hum.size) / SWEEP.rate)))
    assert abs(20 * np.log10(size) + 60) < 0.1
    loud = CLEAN.heard(SOCKET.point(0.0), "n", gain=2.0)
    assert abs(20 * np.log10(np.abs(loud).max()) + 20 - 6.02) < 0.1


@pytest.mark.parametrize(("second", "third"), [(1e-3, 0.0), (0.0, 1e-3)])
def test_harmonics_have_their_level(second: float, third: float) -> None:
    """Divided by the sweep, a harmonic is an impulse of its level, as early as the paper says."""
    n, wanted = (2, second) if second else (3, third)
    made = replace(CLEAN, second=second, third=third)
    sound = made.heard(SOCKET.point(0.0), "h")
    X = fft.rfft(SWEEP.at(np.arange(sound.size) / SWEEP.rate - 0.05))
    impulses = fft.irfft(fft.rfft(sound) / np.where(np.abs(X) > 1e-3 * np.abs(X).max(), X, np.inf))
    both = [_level(impulses, round(at * SWEEP.rate)) for at in (0.0, -SWEEP.harmonic_lead(n))]
    assert both[1] / both[0] == pytest.approx(wanted, rel=0.05)


def _level(impulses: Floats, at: int) -> float:
    """Return the size at 5 kHz of what arrives within 10 ms of a sample."""
    near = np.take(impulses, np.arange(at - 480, at + 480), mode="wrap")
    return float(np.abs(np.sum(near * np.exp(-2j * np.pi * 5e3 * np.arange(960) / SWEEP.rate))))
