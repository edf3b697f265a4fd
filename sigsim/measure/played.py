"""What is played: the synchronised exponential sweep of the program, or what a file holds.

Novak, Lotton, Simon, "Synchronized Swept-Sine: Theory, Application, and Implementation", Journal
of the Audio Engineering Society 63 (10), 2015.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from functools import cached_property, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.audio.files import HIGHEST_RATE, LOWEST_RATE
from sigsim.errors import SigsimError
from sigsim.measure.spectra import fast_size, rising, scaled_spectrum

if TYPE_CHECKING:
    from sigsim.physics.arrays import ComplexArray, FloatArray

# Silence before the first sweep, and behind each [s].
SILENCE_BEFORE: Final = 0.5
SILENCE_BEHIND: Final = 2.0
# A sweep up to there is kept by every converter of this rate.
_HIGHEST_PART: Final = 0.46
# Parts of e-folding of frequency over which the sweep is faded in and out.
_FADE_IN: Final = 0.06
_FADE_OUT: Final = 0.01
# How far inside its ends a sweep is looked at: beyond its fades.
_INSIDE_LOW: Final = 1.1
_INSIDE_HIGH: Final = 0.96
# Steps of the grid: a part of an octave, and what windows of half a second tell apart [Hz].
_PER_OCTAVE: Final = 96
_CLOSEST: Final = 2.1


@dataclass(frozen=True)
class Sweep:
    """A synchronised exponential sweep, several times with silence before and behind.

    Attributes
    ----------
    rate : samples per second [Hz]
    seconds : length of one sweep [s]; rounded so that it begins with a whole number of periods
    low, high : where it begins and ends [Hz]
    level_db : its peak [dBFS]
    repeats : how often it is played

    Raises
    ------
    SigsimError : one of them is out of its range
    """

    rate: int = 48000
    seconds: float = 10.0
    low: float = 20.0
    high: float = 20000.0
    level_db: float = -20.0
    repeats: int = 3

    def __post_init__(self) -> None:
        most = _HIGHEST_PART * self.rate
        ranges = {
            "rate": (LOWEST_RATE, HIGHEST_RATE, "Hz"),
            "seconds": (1, 60, "s"),
            "low": (5, most / 10, "Hz"),
            "high": (10 * self.low, most, "Hz"),
            "level_db": (-60, 0, "dBFS"),
            "repeats": (1, 20, "times"),
        }
        for field in fields(self):
            value, (least, highest, unit) = getattr(self, field.name), ranges[field.name]
            if not least <= value <= highest:
                raise SigsimError(
                    f"this sweep cannot be made: {_WORDS[field.name]}",
                    where=field.name,
                    found=f"{value:g} {unit}",
                    accepted=f"{least:g} to {highest:g} {unit}",
                )

    @property
    def folding(self) -> float:
        """The time in which its frequency grows e-fold, a whole number of first periods [s]."""
        natural = self.seconds / math.log(self.high / self.low)
        return max(1, round(self.low * natural)) / self.low

    @property
    def duration(self) -> float:
        """The length of one sweep as it is [s]."""
        return self.folding * math.log(self.high / self.low)

    @property
    def period(self) -> int:
        """From the start of one sweep to that of the next [samples]."""
        return round((self.duration + SILENCE_BEHIND) * self.rate)

    def wave(self, clock: float = 0.0) -> FloatArray:
        """Return one sweep as a clock sees it that runs faster by the part `clock` [-]."""
        rate = self.rate * (1 + clock)
        time = np.arange(math.floor(self.duration * rate) + 1) / rate
        phase = 2 * np.pi * self.low * self.folding * np.exp(time / self.folding)
        wave = np.sin(phase) * 10 ** (self.level_db / 20)
        fade_in, fade_out = _FADE_IN * self.folding, _FADE_OUT * self.folding
        first, last = math.ceil(fade_in * rate), math.ceil(fade_out * rate)
        wave[:first] *= rising(time[:first] / fade_in)
        wave[-last:] *= rising((self.duration - time[-last:]) / fade_out)
        return wave

    def samples(self) -> FloatArray:
        """Return all of it, shape (samples,), full scale 1."""
        wave, start = self.wave(), round(SILENCE_BEFORE * self.rate)
        whole = np.zeros(start + self.repeats * self.period)
        for repeat in range(self.repeats):
            begin = start + repeat * self.period
            whole[begin : begin + len(wave)] = wave
        return whole


_WORDS: Final = {
    "rate": "no interface of this sample rate is dealt with",
    "seconds": "it is too short or too long",
    "low": "it has to begin lower than a tenth of its end, and where a converter passes it",
    "high": "it has to end ten times as high as it begins, and where its sample rate passes it",
    "level_db": "it would be too quiet to hear, or clip",
    "repeats": "so many of them are not dealt with",
}


@dataclass(frozen=True, eq=False)
class Played:
    """What was played, one repeat of it.

    Attributes
    ----------
    name : how a message calls it
    rate : [Hz]
    low, high : where it begins and ends [Hz]
    wave : one repeat, shape (samples,)
    period : from one repeat to the next [samples], None where there is one only
    repeats : how often it is played
    folding : time in which its frequency grows e-fold [s], None if it is no exponential sweep
    sweep : where the program made it
    """

    name: str
    rate: int
    low: float
    high: float
    wave: FloatArray
    period: int | None
    repeats: int
    folding: float | None
    sweep: Sweep | None = None

    @staticmethod
    @lru_cache(maxsize=4)
    def of(sweep: Sweep) -> Played:
        """Return a sweep of the program as what was played."""
        name = f"the sweep of {sweep.seconds:g} s from {sweep.low:g} Hz to {sweep.high:g} Hz"
        return Played(
            name, sweep.rate, sweep.low, sweep.high, sweep.wave(), sweep.period, sweep.repeats,
            sweep.folding, sweep,
        )  # fmt: skip

    @property
    def duration(self) -> float:
        """The length of one repeat [s]."""
        return len(self.wave) / self.rate

    @property
    def gap(self) -> float:
        """The silence behind a repeat [s]."""
        if self.period is None:
            return SILENCE_BEHIND
        return self.period / self.rate - self.duration

    @cached_property
    def grid(self) -> FloatArray:
        """Frequencies at which a recording is looked at [Hz], shape (frequency,)."""
        points = [self.low * _INSIDE_LOW]
        step = 2 ** (1 / _PER_OCTAVE) - 1
        while points[-1] < self.high * _INSIDE_HIGH:
            points.append(points[-1] + max(points[-1] * step, _CLOSEST))
        return np.array(points[:-1])

    def spectrum(self, size: int, clock: float = 0.0) -> ComplexArray:
        """Return the spectrum of one repeat that starts at 0, shape (size // 2 + 1,).

        Parameters
        ----------
        size : of the transform [samples]
        clock : how much faster the clock of the listener runs [-]
        """
        # Finer than this no recording shows it, and those of one clock share a spectrum.
        return _spectrum(self, size, round(clock, 10))


@lru_cache(maxsize=2)
def _spectrum(played: Played, size: int, clock: float) -> ComplexArray:
    if played.sweep is not None:
        return np.asarray(np.fft.rfft(played.sweep.wave(clock), size))
    if not clock:
        return np.asarray(np.fft.rfft(played.wave, size))
    # A faster clock sees more samples of the same sound, each worth less time.
    return scaled_spectrum(played.wave, size, 1 + clock) * (1 + clock)


def thinned(played: Played, every: int, size: int) -> ComplexArray:
    """Return the spectrum of one repeat at the lowest frequencies of a longer transform.

    Parameters
    ----------
    played : what was played
    every : how many times lower the rate may be
    size : of the transform at that rate [samples]

    Returns
    -------
    shape (size // 2 + 1,), as of samples at the full rate
    """
    length = fast_size(math.ceil(len(played.wave) / every)) * every
    low = np.fft.rfft(played.wave, length)[: length // every // 2 + 1] / every
    low[-1] = 0.0
    return np.asarray(np.fft.rfft(np.fft.irfft(low), size) * every)


def read_played(path: str | Path) -> Played:
    """Return what a file holds that was played: one sweep, once or several times.

    Raises
    ------
    SigsimError : it cannot be read, is silent, too short, or covers too little of the band
    """
    from sigsim.measure.played_file import played_of

    return played_of(Path(path))
