"""How sure a response is: from what its repeats do not share, and from what arrives at no time."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.measure.deconvolve import COARSER
from sigsim.measure.spectra import fast_size, rising

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sigsim.measure.deconvolve import Pulse
    from sigsim.measure.response import Heard, Stretches
    from sigsim.measure.spectra import Windows
    from sigsim.physics.arrays import FloatArray

# The stretch in which nothing arrives: how long after the response it begins [s], how long it is
# at most [s] and at least, and the highest harmonic that is kept away from its end.
_AFTER: Final = 0.15
_LONGEST: Final = 3.0
_SHORTEST: Final = 0.25
_HARMONICS: Final = 20
# Both ways to tell the noise agree within this factor of power, or the larger one is believed.
_AGREE: Final = 2.5
# Points on either side over which a variance is averaged.
_AROUND: Final = 3
# Points on either side that a point is compared with, and how many times surer they are than one
# at which something else was louder.
_NEAR: Final = 40
_LOUDER: Final = 3.0
# A standard error that is not worth leaving a point out for [-]: 0.001 dB.
_HARMLESS: Final = 1e-4
_MAINS: Final = (50, 60)
_MOST_SAID: Final = 6
# How far from a multiple of the mains frequency its hum is seen [Hz], as windows widen it.
_HUM_WIDTH: Final = 8.0


def variance(pulse: Pulse, windows: Windows) -> FloatArray:
    """Return the variance of the mean response on a grid, real and imaginary part together [-].

    Parameters
    ----------
    pulse : the mean of all repeats
    windows : what the response is taken with

    Returns
    -------
    shape (frequency,)
    """
    factor = pulse.blocks.factor
    between, beside = _scatter(pulse), _beside(pulse, windows)
    found = [windows.power(ring, factor) for ring in (between, beside) if ring is not None]
    if not found:
        return np.zeros(len(windows.grid))
    smooth = [_averaged(power, _AROUND) for power in found]
    if len(smooth) == 1:
        return smooth[0]
    most, least = np.maximum(*smooth), np.minimum(*smooth)
    return np.where(most > _AGREE * least, most, (most + least) / 2)


def _scatter(pulse: Pulse) -> FloatArray | None:
    """Return the autocorrelation of what repeats do not share, as it is in their mean."""
    spectra, size = pulse.blocks.spectra, pulse.blocks.size
    if (count := len(spectra)) < 2:
        return None
    power = np.zeros(len(pulse.mean))
    for spectrum in spectra:
        apart = spectrum - pulse.mean
        power += apart.real**2 + apart.imag**2
    inverse = pulse.inverse
    power *= (inverse.real**2 + inverse.imag**2) / (count * (count - 1) * size)
    each = 5 if size >= 4 * COARSER * pulse.blocks.rate // 10 else 1
    return np.fft.irfft(_grouped(power, each), size // each)


def _grouped(power: FloatArray, each: int) -> FloatArray:
    """Return means of an odd number of neighbours, around each so many-th one."""
    side = each // 2
    padded = np.concatenate([power[1 : side + 1][::-1], power, np.zeros(side)])
    count = (len(power) - 1) // each + 1
    return np.asarray(padded[: count * each].reshape(count, each).mean(axis=1))


def _beside(pulse: Pulse, windows: Windows) -> FloatArray | None:
    """Return the autocorrelation of the ring where neither response nor harmonics arrive."""
    rate, size = pulse.blocks.rate, pulse.blocks.size
    folding = pulse.blocks.played.folding
    first = windows.window.after + _AFTER
    harmonics = windows.window.before if folding is None else folding * math.log(_HARMONICS)
    length = min(_LONGEST, size / rate - harmonics - windows.window.before - first)
    if length < _SHORTEST:
        return None
    count = round(length * rate)
    place = np.arange(count) / count
    weights = rising(4 * place) * rising(4 * (1 - place))
    start = round(first * rate)
    part = pulse.ring[start : start + count] * weights
    reach = round((windows.window.before + windows.window.after) * rate)
    spectrum = np.fft.rfft(part, fast_size(count + max(count, reach) + 8))
    return np.fft.irfft(spectrum.real**2 + spectrum.imag**2) / float(weights @ weights)


def _averaged(values: FloatArray, side: int) -> FloatArray:
    """Return means over so many points on either side, fewer at the ends."""
    sums = np.concatenate([[0.0], np.cumsum(values)])
    at = np.arange(len(values))
    first, last = np.maximum(at - side, 0), np.minimum(at + side + 1, len(values))
    return np.asarray((sums[last] - sums[first]) / (last - first))


def louder(grid: FloatArray, sigma: FloatArray) -> Stretches:
    """Return the stretches in which something else is louder than what lies around [Hz].

    Parameters
    ----------
    grid : [Hz], shape (frequency,)
    sigma : standard error [-], shape (frequency,)
    """
    padded = np.pad(sigma, _NEAR, mode="edge")
    around = np.lib.stride_tricks.sliding_window_view(padded, 2 * _NEAR + 1)
    usual = np.quantile(around, 0.4, axis=1)
    bad = (sigma > _LOUDER * usual) & (sigma > _HARMLESS)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], bad, [False]]).astype(int)))
    return tuple(
        (float(grid[first]), float(grid[last - 1])) for first, last in edges.reshape(-1, 2)
    )


def said(stretches: Stretches) -> str | None:
    """Return one sentence about what is left out, None if nothing is."""
    if not stretches:
        return None
    mains = max(_MAINS, key=lambda hum: sum(_near(one, hum) for one in stretches))
    humming = sum(_near(one, mains) for one in stretches)
    middles = [(low + high) / 2 for low, high in stretches]
    if 2 * humming > len(stretches):
        found = sorted({max(1, round(middle / mains)) * mains for middle in middles})
        return f"Mains hum of {mains} Hz is left out, around {_listed(found)} Hz."
    return f"Something else was loud around {_listed(middles)} Hz, which is left out."


def notes_of(every: Sequence[Heard]) -> list[str]:
    """Return what should be known of recordings, each once: what is left out of any as one."""
    own = {said(one.left_out) for one in every}
    notes = list(dict.fromkeys(note for one in every for note in one.notes))
    kept = [note for note in notes if note not in own]
    whole = said(merged(*(one.left_out for one in every)))
    return [*([whole] if whole is not None and len(kept) < len(notes) else []), *kept]


def _listed(frequencies: Sequence[float]) -> str:
    more = " …" if len(frequencies) > _MOST_SAID else ""
    return ", ".join(f"{one:.0f}" for one in frequencies[:_MOST_SAID]) + more


def _near(stretch: tuple[float, float], hum: int) -> bool:
    low, high = stretch
    nearest = max(1, round((low + high) / 2 / hum)) * hum
    return low - _HUM_WIDTH < nearest < high + _HUM_WIDTH and nearest < 40 * hum


def merged(*lists: Stretches) -> Stretches:
    """Return all stretches in order, those that touch as one."""
    found: list[tuple[float, float]] = []
    for low, high in sorted(one for each in lists for one in each):
        if found and low <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], high))
        else:
            found.append((low, high))
    return tuple(found)


def left(grid: FloatArray, stretches: Stretches) -> NDArray[np.bool_]:
    """Return which points of a grid lie in no stretch, shape (frequency,)."""
    kept = np.ones(len(grid), dtype=bool)
    for low, high in stretches:
        kept &= (grid < low) | (grid > high)
    return kept
