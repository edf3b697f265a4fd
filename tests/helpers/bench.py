"""A virtual bench: what an audio interface records of a circuit, as a WAV file.

It imports nothing of the program: the sweep is written again from its paper (A. Novak, P. Lotton,
L. Simon, "Synchronized swept-sine: theory, application, and implementation", J. Audio Eng. Soc. 63
(2015)), the circuits are solved by `network.py`, and what an interface adds is added here: a delay,
a clock of its own, distortion of its output and of its input, noise, hum, a gain that drifts.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeAlias

import numpy as np
import soundfile
from numpy.typing import NDArray
from scipy import fft
from scipy.interpolate import CubicSpline

Floats: TypeAlias = NDArray[np.float64]
Complexes: TypeAlias = NDArray[np.complexfloating[Any, Any]]
Transfer: TypeAlias = Callable[[Floats], Complexes]

# The smooth responses of what is measured, solved on so many points from 1 Hz on, lie within 1e-6
# of a cubic between them: a hundred points in an octave, for peaks no narrower than a tenth of one.
_POINTS = 1500
# Above it a harmonic of the output is taken as filtered off, as a part of the rate.
_HIGHEST_HARMONIC = 0.47


@dataclass(frozen=True)
class Sweep:
    """A synchronised exponential sweep, repeated, between silences.

    Attributes
    ----------
    rate : [Hz]; seconds : asked for of each repeat [s]; low, high : [Hz]; level : peak [dBFS]
    repeats : how many; silence : before the first [s]; pause : behind each [s]
    fade : at both ends of each, half a cosine [s]
    """

    rate: int = 48000
    seconds: float = 10.0
    low: float = 20.0
    high: float = 20000.0
    level: float = -20.0
    repeats: int = 3
    silence: float = 0.5
    pause: float = 2.0
    fade: float = 0.02

    @property
    def k(self) -> int:
        """Whole number of periods that makes all harmonics start in phase."""
        return round(self.low * self.seconds / np.log(self.high / self.low))

    @property
    def L(self) -> float:
        """Time in which the frequency grows by e [s]."""
        return self.k / self.low

    @property
    def duration(self) -> float:
        """Of one repeat [s]."""
        return float(self.L * np.log(self.high / self.low))

    @property
    def peak(self) -> float:
        """The largest sample."""
        return float(10 ** (self.level / 20))

    @property
    def length(self) -> float:
        """Of the whole file [s]."""
        return self.silence + self.repeats * self._period

    @property
    def _period(self) -> float:
        return round((self.duration + self.pause) * self.rate) / self.rate

    def harmonic_lead(self, n: int) -> float:
        """How much earlier than the fundamental a harmonic arrives [s]."""
        return float(self.L * np.log(n))

    def at(self, time: Floats, shape: tuple[float, float] = (0.0, 0.0)) -> Floats:
        """Return what an output plays, free of aliases.

        Parameters
        ----------
        time : from the start of the file [s], rising
        shape : its distortion is `x + a·x² + b·x³`
        """
        played = np.zeros_like(time)
        for repeat in range(self.repeats):
            start = self.silence + repeat * self._period
            first, last = np.searchsorted(time, (start, start + self.duration))
            played[first:last] = self._one(time[first:last] - start, *shape)
        return played

    def samples(self) -> Floats:
        """Return the whole file."""
        return self.at(np.arange(round(self.length * self.rate)) / self.rate)

    def write(self, path: Path) -> Path:
        """Write the whole file."""
        soundfile.write(path, self.samples(), self.rate, subtype="PCM_24")
        return path

    def _one(self, time: Floats, a: float, b: float) -> Floats:
        edge = np.minimum(time, self.duration - time) / self.fade
        size = self.peak * (0.5 - 0.5 * np.cos(np.pi * np.clip(edge, 0.0, 1.0)))
        grown = np.exp(time / self.L)
        phase = 2 * np.pi * self.k * grown
        highest = _HIGHEST_HARMONIC * self.rate / self.low
        sine = np.sin(phase)
        played: Floats = (size + 0.75 * b * size**3) * sine
        if a:
            cosine = 1 - 2 * sine**2
            played -= 0.5 * a * size**2 * cosine * (2 * grown < highest)
        if b:
            triple = sine * (3 - 4 * sine**2)
            played -= 0.25 * b * size**3 * triple * (3 * grown < highest)
        return played


@dataclass(frozen=True)
class Recorder:
    """What an interface does to a sweep, beside its two impedances.

    Attributes
    ----------
    sweep : that it plays
    seed : of all that is random in its recordings
    noise : at its input [dBFS rms]; hum : of the mains [dBFS peak]; mains : [Hz]
    second, third : harmonics at the sweep's own level, parts of the fundamental, half of each made
        by the output and half by the input
    drift : of the gain, from recording to recording [dB rms]
    clock : largest difference of a recording's clock [ppm]
    lead_in : longest wait before the file is played [s]
    """

    sweep: Sweep = field(default_factory=Sweep)
    seed: int = 0
    noise: float = -80.0
    hum: float = -60.0
    mains: float = 50.0
    second: float = 1e-3
    third: float = 1e-3
    drift: float = 0.003
    clock: float = 30.0
    lead_in: float = 2.0

    def record(self, path: Path, transfer: Transfer, gain: float = 1.0) -> Path:
        """Write what is recorded through a circuit.

        Parameters
        ----------
        path : of the file; with the seed it decides all that is random
        transfer : from the output's voltage to the input's, by frequency [Hz]
        gain : of the interface [-]
        """
        heard = self.heard(transfer, path.stem, gain)
        soundfile.write(path, heard, self.sweep.rate, subtype="PCM_24")
        return path

    def heard(self, transfer: Transfer, name: str, gain: float = 1.0) -> Floats:
        """Return the samples of a recording; the parameters are those of `record`."""
        draw = np.random.default_rng([self.seed, *name.encode()])
        rate, stretch = self.sweep.rate, 1 + 1e-6 * self.clock * draw.uniform(-1, 1)
        wait = draw.uniform(0.05, max(0.05, self.lead_in))
        size = fft.next_fast_len(round((self.sweep.length + wait + 0.3) * rate), real=True)
        time = np.arange(size) / rate
        gain *= 10 ** (self.drift * draw.standard_normal() / 20)
        made = self.sweep.at(stretch * time - wait, self._shape(self.second, self.third))
        frequency = np.fft.rfftfreq(size, stretch / rate)
        spectrum = fft.rfft(made) * _smooth(transfer, frequency) * gain
        spectrum *= frequency / (frequency - 5j)  # coupled by a capacitor
        recorded = self._input(spectrum, frequency, size)
        recorded += self._hum(time, draw)
        recorded += 10 ** (self.noise / 20) * draw.standard_normal(size)
        return recorded

    def _shape(self, second: float, third: float) -> tuple[float, float]:
        """Return the square and the cubic term of one half of these harmonics."""
        sign = np.random.default_rng(self.seed).choice([-1.0, 1.0], 2)
        peak = self.sweep.peak
        # sin² holds half of cos 2φ, sin³ a quarter of sin 3φ.
        return float(sign[0] * second / peak), float(2 * sign[1] * third / peak**2)

    def _input(self, spectrum: Complexes, frequency: Floats, size: int) -> Floats:
        """Bend the voltage at twice the rate, where nothing folds, and filter it."""
        a, b = self._shape(self.second, self.third)
        nyquist = self.sweep.rate / 2
        keep = 1 / np.sqrt(1 + (frequency / (0.95 * nyquist)) ** 60)
        if a or b:
            voltage = 2 * fft.irfft(spectrum, 2 * size)
            voltage += voltage * voltage * (a + b * voltage)
            spectrum = fft.rfft(voltage)[: spectrum.size] / 2
        return np.asarray(fft.irfft(spectrum * keep, size))

    def _hum(self, time: Floats, draw: np.random.Generator) -> Floats:
        """Return hum with five harmonics that fall by half each."""
        made = np.zeros_like(time)
        for n in range(1, 6):
            phase = 2 * np.pi * (n * self.mains * time + draw.uniform())
            made += 10 ** (self.hum / 20) / 2 ** (n - 1) * np.sin(phase)
        return made


def _smooth(transfer: Transfer, frequency: Floats) -> Complexes:
    """Evaluate a smooth response on very many frequencies."""
    grid = np.geomspace(1.0, frequency[-1], _POINTS)
    solved = transfer(grid)
    logarithm = np.log(np.abs(solved)) + 1j * np.unwrap(np.angle(solved))
    cubic = CubicSpline(np.log(grid), logarithm)
    return np.exp(cubic(np.log(np.maximum(frequency, 1.0))))
