"""Spectra of long stretches of sound: sizes, flanks, scaled frequencies, and windows per band."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from sigsim.physics.arrays import ComplexArray, FloatArray

    # How much of a response counts, by the time from its arrival [s].
    Shape = Callable[[FloatArray], FloatArray]

# Below this frequency a window has its full length, above it gets shorter as a period does: then
# what it leaves of neighbouring points is the same fraction of an octave everywhere.
KNEE: Final = 290.0
# They do not get shorter than the end of the band is told apart with [Hz].
_TOP: Final = 16000.0
# Windows change by half an octave, so that none is much longer than its frequencies need.
_STEP: Final = math.sqrt(2)
# Points of a transform for each that its window needs, so that four of them are a smooth curve.
_FINER: Final = 3


def fast_size(least: int) -> int:
    """Return the smallest even number from `least` on whose prime factors are 2, 3 and 5."""
    best = 1 << max(1, (least - 1).bit_length())
    fives = 1
    while fives < best:
        odd = fives
        while odd < best:
            twos = 2 * odd
            while twos < least:
                twos *= 2
            best = min(best, twos)
            odd *= 3
        fives *= 5
    return best


def rising(place: FloatArray) -> FloatArray:
    """Return a smooth way from 0 (at 0 and before) to 1 (at 1 and beyond).

    It is the integral of a raised cosine: what it makes of a tone falls off with the fourth power.
    """
    inside = np.clip(place, 0.0, 1.0)
    return np.asarray(inside - np.sin(2 * np.pi * inside) / (2 * np.pi))


def scaled_spectrum(samples: FloatArray, size: int, factor: float) -> ComplexArray:
    """Return the spectrum of samples at `factor` times the frequencies of a transform.

    It is the chirp-z transform (Rabiner, Schafer, Rader 1969) with an angle that is no whole part
    of a turn.

    Parameters
    ----------
    samples : real, shape (samples,)
    size : of the transform whose frequencies 0 … size/2 are scaled
    factor : [-]

    Returns
    -------
    shape (size // 2 + 1,)
    """
    wanted, there = size // 2 + 1, len(samples)
    longest = max(wanted, there)
    turn = factor / size
    chirp = np.exp(-1j * np.pi * np.fmod(np.arange(longest, dtype=float) ** 2 * turn, 2.0))
    length = fast_size(wanted + there)
    kernel = np.zeros(length, dtype=complex)
    kernel[:wanted] = chirp[:wanted].conj()
    kernel[-there + 1 :] = chirp[1:there][::-1].conj()
    product = np.fft.fft(samples * chirp[:there], length)
    product *= np.fft.fft(kernel)
    return np.asarray(np.fft.ifft(product)[:wanted] * chirp[:wanted])


@dataclass(frozen=True)
class Window:
    """What counts of a response around its arrival, at and below the knee.

    Attributes
    ----------
    before, after : where it ends, on either side [s]
    flat_before, flat_after : up to where all counts [s]
    """

    before: float
    flat_before: float
    after: float
    flat_after: float

    def shape(self, time: FloatArray) -> FloatArray:
        """Return how much counts at times from the arrival [s]."""
        before = rising((self.before + time) / (self.before - self.flat_before))
        return np.asarray(before * rising((self.after - time) / (self.after - self.flat_after)))


@dataclass(frozen=True)
class _Band:
    points: slice
    before: int
    after: int
    weights: FloatArray
    size: int


@dataclass(frozen=True, eq=False)
class Windows:
    """Windows over a grid of frequencies.

    Attributes
    ----------
    rate : [Hz]
    grid : [Hz], rising, shape (frequency,)
    window : at the knee and below
    """

    rate: int
    grid: FloatArray
    window: Window

    @cached_property
    def _bands(self) -> list[_Band]:
        edges = [0.0, KNEE * _STEP]
        while edges[-1] < self.grid[-1]:
            edges.append(edges[-1] * _STEP)
        bands = []
        for low, high in pairwise(edges):
            first, last = np.searchsorted(self.grid, (low, high))
            if first < last:
                bands.append(
                    self._band(
                        slice(int(first), int(last)), min(1.0, KNEE / min(low or KNEE, _TOP))
                    )
                )
        return bands

    def _band(self, points: slice, scale: float) -> _Band:
        before = math.ceil(self.window.before * scale * self.rate) + 1
        after = math.ceil(self.window.after * scale * self.rate) + 1
        time = np.arange(-before, after) / (self.rate * scale)
        size = fast_size(_FINER * (before + after))
        return _Band(points, before, after, self.window.shape(time), size)

    @cached_property
    def _doubled(self) -> list[_Band]:
        """Windows that make of an autocorrelation the power that the windows leave of a noise."""
        doubled = []
        for band in self._bands:
            length = len(band.weights)
            spectrum = np.fft.rfft(band.weights, fast_size(2 * length))
            both = np.fft.irfft(np.abs(spectrum) ** 2)
            weights = np.concatenate([both[-length + 1 :], both[:length]])
            size = fast_size(_FINER * 2 * length)
            doubled.append(_Band(band.points, length - 1, length, weights, size))
        return doubled

    def response(self, pulse: FloatArray, factor: float = 1.0, arrival: int = 0) -> ComplexArray:
        """Return the response at `factor` times the grid, of what lies around an arrival.

        Parameters
        ----------
        pulse : impulse response that goes round in a ring, shape (samples,)
        factor : [-]
        arrival : place of the time 0 [samples]
        """
        return self._through(self._bands, pulse, factor, arrival)

    def power(self, correlation: FloatArray, factor: float = 1.0) -> FloatArray:
        """Return the power that the windows leave of a noise [-], shape (frequency,).

        Parameters
        ----------
        correlation : of the noise with itself, going round in a ring, shape (samples,)
        factor : [-]
        """
        found = self._through(self._doubled, correlation, factor, 0).real
        return np.asarray(np.maximum(found, 0.0))

    def _through(
        self, bands: list[_Band], pulse: FloatArray, factor: float, arrival: int
    ) -> ComplexArray:
        found = np.empty(len(self.grid), dtype=complex)
        for band in bands:
            around = np.arange(arrival - band.before, arrival + band.after)
            part = np.take(pulse, around, mode="wrap") * band.weights
            ring = np.zeros(band.size)
            ring[: band.after] = part[band.before :]
            ring[-band.before :] = part[: band.before]
            places = self.grid[band.points] * (factor * band.size / self.rate)
            found[band.points] = _between(np.fft.rfft(ring), places)
        return found


def _between(values: ComplexArray, places: FloatArray) -> ComplexArray:
    """Return values between those of a row, by the polynomial through the four nearest."""
    first = np.clip(places.astype(int), 1, len(values) - 3)
    u = places - first
    return np.asarray(
        values[first - 1] * (-u * (u - 1) * (u - 2) / 6)
        + values[first] * ((u + 1) * (u - 1) * (u - 2) / 2)
        + values[first + 1] * (-(u + 1) * u * (u - 2) / 2)
        + values[first + 2] * ((u + 1) * u * (u - 1) / 6)
    )
