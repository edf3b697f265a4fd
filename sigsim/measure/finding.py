"""Where in a recording the sweeps are: the whole of it deconvolved, coarsely, by one sweep."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from sigsim.measure.played import thinned
from sigsim.measure.spectra import fast_size, rising

if TYPE_CHECKING:
    from sigsim.measure.played import Played
    from sigsim.physics.arrays import FloatArray

# Clocks of interfaces differ by less than this; more is a piece of the recording that is missing.
CLOCK: Final = 200e-6
# Slack of a place found coarsely [s].
_SLACK: Final = 1e-4
# A rate that is still enough to find a sweep to a part of a sample [Hz].
_COARSE: Final = 9600
# Hum is mostly below this [Hz].
_ABOVE_HUM: Final = 500.0
# How far an arrival stands out of all else: noise alone reaches 6, another sweep some 20, and this
# one, 40 dB below a usual level, with noise at -80 dBFS, 100.
_STANDS_OUT: Final = 40.0
# A further sweep is no fainter than this part of the loudest.
_FAINTEST: Final = 0.2
# How far from its expected place a further sweep is looked for, as a part of a period.
_AROUND: Final = 0.35


@dataclass(frozen=True)
class Found:
    """Where whole sweeps begin in a recording.

    Attributes
    ----------
    starts : [samples], rising, with parts of a sample
    peak : the highest arrival, on a scale that is the same for all channels of a file
    stands_out : how far it stands out of the rest [-]
    whole : whether a sweep that stands out lies wholly in the recording
    """

    starts: tuple[float, ...]
    peak: float
    stands_out: float
    whole: bool

    @property
    def clear(self) -> bool:
        """Whether the sweep is there at all."""
        return self.stands_out >= _STANDS_OUT


def find(samples: Any, played: Played) -> Found:
    """Return where the sweeps begin.

    Parameters
    ----------
    samples : single precision, shape (samples,)
    played : what was played
    """
    every = max(1, played.rate // _COARSE)
    train = _arrivals(samples, played, every)
    last = len(samples) - len(played.wave) * (1 + CLOCK)
    fitting = train[: max(0, math.floor(last / every) + 2)]
    typical = float(np.median(train)) or float(np.finfo(np.float32).tiny)
    highest = float(train.max())
    if not len(fitting) or not highest:
        return Found((), highest, highest / typical, False)
    whole = float(fitting.max()) > _FAINTEST * highest
    places = _places(fitting, None if played.period is None else played.period / every)
    starts = tuple(_refined(train, place) * every for place in places)
    return Found(starts, float(fitting.max()), highest / typical, whole)


def _arrivals(samples: Any, played: Played, every: int) -> Any:
    """Return the envelope of a recording deconvolved by one sweep, at a lower rate."""
    size = fast_size(math.ceil((len(samples) + len(played.wave)) / every))
    spectrum = np.fft.rfft(samples, size * every)[: size // 2 + 1]
    sweep = thinned(played, every, size)
    frequency = np.arange(size // 2 + 1, dtype=float) * (played.rate / every / size)
    power = np.abs(sweep) ** 2
    kept = sweep.conj() / (power + 1e-3 * power.max()) * _band(frequency, played, every)
    both = np.zeros(size, dtype=np.complex64)
    both[: size // 2 + 1] = spectrum * kept
    return np.abs(np.fft.ifft(both))


def _band(frequency: FloatArray, played: Played, every: int) -> FloatArray:
    """Return the band in which a sweep is looked for: smooth, above hum, within the sweep."""
    low = max(1.2 * played.low, min(_ABOVE_HUM, math.sqrt(played.low * played.high)))
    high = min(0.95 * played.high, 0.45 * played.rate / every)
    place = np.log(np.maximum(frequency, 1e-3))
    return rising((place - math.log(low)) / 0.7) * rising((math.log(high) - place) / 0.4)


def _places(train: Any, period: float | None) -> list[int]:
    """Return the places of arrivals about a period apart, beginning from the highest."""
    middle = int(np.argmax(train))
    if period is None:
        return [middle]
    found = [middle]
    for way in (1, -1):
        here = middle
        while (there := _next(train, here + way * period, period, train[middle])) is not None:
            found.append(there)
            here = there
    return sorted(found)


def _next(train: Any, place: float, period: float, highest: float) -> int | None:
    first, last = (max(0, round(place + side * _AROUND * period)) for side in (-1, 1))
    near = train[first:last]
    if not len(near) or near.max() < _FAINTEST * highest:
        return None
    return first + int(np.argmax(near))


def _refined(train: Any, place: int) -> float:
    """Return the top of the parabola through three points of an envelope."""
    left, top, right = (float(train[k % len(train)]) for k in (place - 1, place, place + 1))
    bend = left - 2 * top + right
    return place + (0.5 * (left - right) / bend if bend else 0.0)


def off_period(found: Found, played: Played) -> FloatArray:
    """Return by how much each sweep is further from the next than clocks can make it [s].

    Returns
    -------
    shape (sweeps - 1,), 0 where clocks can
    """
    gaps = np.diff(found.starts)
    if played.period is None:
        return np.zeros(len(gaps))
    limit = CLOCK * played.period + _SLACK * played.rate
    off = gaps - played.period
    return np.where(np.abs(off) > limit, off, 0.0) / played.rate
