"""A recording as the loss it shows: by points, by third octaves, and of the treble."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.measure.verdict import Between
from sigsim.metrics import USUAL_BASIS, decibels, third_octaves

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sigsim.measure.response import Ratio
    from sigsim.physics.arrays import FloatArray

    Index = NDArray[np.intp]

LOWEST_HZ: Final = 100.0
HIGHEST_HZ: Final = 10_000.0
# From a third octave's centre to its edge: IEC 61260-1 has the base ten.
EDGE: Final = 10**0.05
# The loss at 100 Hz of a measurement is the mean of these [Hz]: one point there is next to hum.
_LEVEL_HZ: Final = (80.0, 200.0)

# 95 % of a normal distribution lie within so many standard deviations.
NORMAL_95: Final = 1.96
# Of gain between two recordings, half the width of its interval [dB].
GAIN_DB: Final = 0.01
# Where a table says nothing about its own uncertainty, half the width of its interval [dB].
ASSUMED_DB: Final = 0.05
_NEPER_DB: Final = float(20 / np.log(10))
# x³ adds 3/4 of its size to the tone and 1/4 to the third harmonic: the tone is off by three times.
_TONE_PER_THIRD: Final = 3.0
# The harmonic is told of what is loud on the whole, and a resonance stands some 3 dB above that.
_LOUDEST: Final = 2.0
# So many points a third octave are enough where boards are drawn or tried.
PER_BAND: Final = 4


@dataclass(frozen=True, eq=False)
class Band:
    """One third octave of a recording.

    Attributes
    ----------
    centre : [Hz]
    points : of the recording that lie in it
    weights : of these points, together 1
    """

    centre: float
    points: Index
    weights: FloatArray

    def mean(self, values: FloatArray) -> FloatArray:
        """Return the mean of values at all points of a recording, shape (…,)."""
        mean: FloatArray = values[..., self.points] @ self.weights
        return mean


@dataclass(frozen=True, eq=False)
class Recorded:
    """The loss that a ratio shows.

    Attributes
    ----------
    frequency : [Hz], shape (points,)
    loss : [dB]
    sigma : standard error of each point, its own [dB]
    common : half the width of the interval of what all points share [dB]
    bands : third octaves that it has points in, rising
    """

    frequency: FloatArray
    loss: FloatArray
    sigma: FloatArray
    common: FloatArray
    bands: tuple[Band, ...]

    def between(self, band: Band) -> Between:
        """Return the loss in a band with its interval."""
        own = NORMAL_95 * float(np.sqrt(np.sum((band.weights * self.sigma[band.points]) ** 2)))
        return _between(float(band.mean(self.loss)), own, float(band.mean(self.common)))

    @property
    def treble_loss(self) -> Between:
        """The treble loss, against the mean of 80 to 200 Hz; not a number where it lacks some."""
        f = self.frequency
        low, high = _LEVEL_HZ
        near = np.flatnonzero((f >= low) & (f <= high))
        centres = USUAL_BASIS.centres
        if not near.size or f[-1] < centres[-1] / EDGE or f[0] > centres[0]:
            return Between(np.nan, np.nan, np.nan)
        weights = 1 / self.sigma[near] ** 2
        level = float(np.average(self.loss[near], weights=weights))
        at = np.interp(np.log(centres), np.log(f), self.loss)
        noise = np.interp(np.log(centres), np.log(f), self.sigma)
        variance = np.sum(noise**2) / centres.size**2 + 1 / np.sum(weights)
        common = float(np.interp(np.log(centres), np.log(f), self.common).mean())
        return _between(float(at.mean()) - level, NORMAL_95 * float(np.sqrt(variance)), common)


def _between(value: float, *halves: float) -> Between:
    half = float(np.sqrt(sum(one**2 for one in halves)))
    return Between(value, value - half, value + half)


def recorded(ratio: Ratio) -> Recorded:
    """Return the loss that a ratio of through to without shows."""
    kept = np.isfinite(ratio.T) & (np.abs(ratio.T) > 0) & (ratio.frequency > 0)
    if ratio.sigma is not None:
        kept &= np.isfinite(ratio.sigma)
    f, T = np.asarray(ratio.frequency[kept], dtype=float), ratio.T[kept]
    # What bends a tone that is loud bends it less where less of it comes through.
    bent = _LOUDEST * _TONE_PER_THIRD * ratio.third * np.abs(1 - np.abs(T) ** 2) * _NEPER_DB
    if ratio.sigma is None:
        sigma, common = np.full(f.size, ASSUMED_DB / NORMAL_95), np.full(f.size, ASSUMED_DB)
    else:
        # Two points are never exact: a weight without end would leave all others out.
        sigma = np.maximum(_NEPER_DB * ratio.sigma[kept], 1e-6)
        common = np.hypot(GAIN_DB, bent)
    return Recorded(f, -decibels(T), sigma, common, tuple(_bands(f, sigma)))


def _bands(f: FloatArray, sigma: FloatArray) -> list[Band]:
    found = []
    for centre in third_octaves(LOWEST_HZ, HIGHEST_HZ).tolist():
        points = np.flatnonzero((f >= centre / EDGE) & (f < centre * EDGE))
        if points.size and _spans(f[points]):
            weights = 1 / sigma[points] ** 2
            found.append(Band(centre, points, weights / weights.sum()))
    return found


def missing(record: Recorded) -> list[float]:
    """Return the centres of third octaves that a recording has next to nothing in [Hz]."""
    there = {band.centre for band in record.bands}
    centres = third_octaves(LOWEST_HZ, HIGHEST_HZ).tolist()
    return [centre for centre in centres if centre not in there]


def _spans(f: FloatArray) -> bool:
    """Whether what is left of a third octave is at least half of it; a table may have one point."""
    few = 3
    return f.size < few or bool(np.log(f[-1] / f[0]) > np.log(EDGE))


def thinned(record: Recorded) -> Index:
    """Return the points of a recording to compare boards at: a few in each of its bands."""
    points: set[int] = set()
    for band in record.bands:
        at = np.linspace(0, band.points.size - 1, min(PER_BAND, band.points.size) * 2 + 1)[1::2]
        points.update(band.points[np.rint(at).astype(int)].tolist())
    return np.array(sorted(points), dtype=np.intp)
