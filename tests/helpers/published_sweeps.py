"""Published numbers of sweeps: what the program's own sweep is, and what a curve makes of it.

The curve's harmonics are taken apart here with plain spectra, as the paper does. Importing this
registers the functions; `helpers.published` says how it works.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from helpers.published import EVERY, Inputs, computes
from sigsim.measure.played import Sweep

# Three times 16 kHz is told from all else at this rate.
_RATE = 96000
# Where the levels of harmonics are read [Hz]: far from the ends of each. Half a window [s].
_FREQUENCY = np.geomspace(500.0, 5000.0, 41)
_AROUND = 0.1


def _sweep(given: Inputs) -> Sweep:
    """Return the program's sweep as loud as can be, as the paper's is."""
    seconds = given.get("requested_duration_s", given.get("duration_s", 10.0))
    return Sweep(_RATE, seconds, given["start_hz"], given["stop_hz"], 0.0, 1)


@computes("synchronised_sweep", "k")
def periods(given: Inputs) -> float:
    return given["start_hz"] * _sweep(given).folding


@computes("synchronised_sweep", "L")
def folding(given: Inputs) -> float:
    return _sweep(given).folding


@computes("synchronised_sweep", "duration")
def duration(given: Inputs) -> float:
    return _sweep(given).duration


def _impulses(sweep: Sweep, polynomial: list[float]) -> NDArray[np.float64]:
    """Return the sweep through a curve, divided by the sweep: an impulse for each harmonic."""
    played = sweep.wave()
    curved = sum(factor * played**power for power, factor in enumerate(polynomial, 1))
    size = fft.next_fast_len(2 * len(played), real=True)
    X = fft.rfft(played, size)
    power = np.abs(X) ** 2
    # Where next to nothing was played nothing is made of it.
    inverse = X.conj() / (power + 1e-6 * power.max())
    return np.asarray(fft.irfft(fft.rfft(curved, size) * inverse, size))


@computes("exponential_sweep", EVERY)
def lead_of_a_harmonic(given: Inputs) -> float:
    """Return how early a harmonic arrives, of a sweep that is rounded to whole periods.

    Its lead is the same part of its length, which is 16 ms more than that of the case.
    """
    sweep, n = _sweep(given), given["harmonic"]
    impulses = _impulses(sweep, [0.0] * (n - 1) + [1.0])
    early = np.abs(impulses[::-1][: int(sweep.duration * _RATE)])
    # The curve of the cube has the fundamental too, near 0.
    early[: _RATE // 2] = 0.0
    lead = (int(np.argmax(early)) + 1) / _RATE
    return lead * given["duration_s"] / sweep.duration


def _harmonic(given: Inputs, n: int) -> complex:
    """Return the level of a harmonic over the fundamental that was played."""
    sweep = _sweep(given)
    impulses = _impulses(sweep, given["polynomial"])
    # Between two samples the lead is made up for by a turn of each frequency.
    lead = sweep.folding * math.log(n) * _RATE
    place = -round(lead)
    around = np.arange(-round(_AROUND * _RATE), round(_AROUND * _RATE))
    part = impulses[(place + around) % len(impulses)] * np.hanning(len(around)) ** 0.25
    time = (around + place + lead) / _RATE
    levels = np.exp(-2j * np.pi * n * np.outer(_FREQUENCY, time)) @ part
    return complex(np.median(levels.real) + 1j * np.median(levels.imag))


# sin² is half of 1 - cos 2φ, a quarter turn from sin 2φ; sin³ is 3/4 sin φ - 1/4 sin 3φ.


@computes("synchronised_sweep", "first-order coefficient")
def first_order(given: Inputs) -> float:
    return (_harmonic(given, 1) + 3 * _harmonic(given, 3)).real


@computes("synchronised_sweep", "second-order coefficient")
def second_order(given: Inputs) -> float:
    return (2j * _harmonic(given, 2)).real


@computes("synchronised_sweep", "third-order coefficient")
def third_order(given: Inputs) -> float:
    return (-4 * _harmonic(given, 3)).real
