"""What a file holds that was played: its silences, its repeats, and what sweep it is."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.audio.files import open_recording
from sigsim.errors import SigsimError, quote, shown_path
from sigsim.measure.played import Played
from sigsim.measure.spectra import fast_size

if TYPE_CHECKING:
    from sigsim.physics.arrays import ComplexArray, FloatArray

_MOST_SAMPLES: Final = 30_000_000
_AT_ONCE: Final = 1 << 18
# Below this part of the peak for so long it is silent [-], [s].
_QUIET: Final = 1e-3
_SILENCE: Final = 0.08
_SILENT_PEAK: Final = 1e-5
_SHORTEST: Final = 0.5
# Repeats are copies: they differ by less than this part of the peak.
_ALIKE: Final = 2e-3
# Frequencies are told by a part of an octave; they belong to a sweep down to -10 dB of the most
# that an octave has, and to another sound down to -30 dB of it or of the most that a hertz has.
_BANDS: Final = 12
_BELONGS: Final = 0.001
_EVEN: Final = 0.1
# A sweep's delay is a straight line over log f to a part of its length.
_STRAIGHT: Final = 0.01
_NARROWEST: Final = 8.0


def played_of(path: Path) -> Played:
    """Return what a file holds that was played: one sweep, once or several times.

    Parameters
    ----------
    path : a recording of one or more channels, of which the loudest counts

    Raises
    ------
    SigsimError : it cannot be read, is silent, too short, or covers too little of the band
    """
    recording, where = open_recording(path), shown_path(path)
    if recording.frames * recording.channels > _MOST_SAMPLES:
        most = _MOST_SAMPLES / recording.channels / recording.rate
        found = f"{recording.seconds:.0f} s"
        what = "this sweep is too long"
        raise SigsimError(what, where=where, found=found, accepted=f"at most {most:.0f} s")
    sound = np.concatenate(list(recording.blocks(_AT_ONCE)))
    samples = sound[:, int(np.argmax(np.abs(sound).max(axis=0)))]
    rate = recording.rate
    if (peak := float(np.abs(samples).max())) < _SILENT_PEAK:
        raise SigsimError("this file is silent: it is no sweep that was played", where=where)
    stretches = _stretches(samples, peak, rate)
    first, last = stretches[0]
    period = _period(samples, stretches, peak)
    if period is None:
        last = stretches[-1][1]
    wave = samples[first:last].copy()
    if len(wave) < _SHORTEST * rate:
        raise SigsimError(
            "this is too short for a sweep that was played",
            where=where,
            found=f"{len(wave) / rate:.2f} s",
            accepted=f"at least {_SHORTEST} s",
        )
    low, high, folding = _kind(wave, rate)
    if high < _NARROWEST * low:
        raise SigsimError(
            "this covers too little of the band to measure with it",
            where=where,
            found=f"{low:.0f} to {high:.0f} Hz",
            accepted="a sweep over at least three octaves",
        )
    repeats = len(stretches) if period is not None else 1
    return Played(quote(path.name), rate, low, high, wave, period, repeats, folding)


def _stretches(samples: FloatArray, peak: float, rate: int) -> list[tuple[int, int]]:
    """Return where there is sound: first sample, and the one behind the last."""
    loud = np.flatnonzero(np.abs(samples) > _QUIET * peak)
    breaks = np.flatnonzero(np.diff(loud) > _SILENCE * rate)
    firsts = np.concatenate([[loud[0]], loud[breaks + 1]])
    lasts = np.concatenate([loud[breaks], [loud[-1]]])
    # What fades in and out is under the threshold before and behind.
    margin = min(round(_SILENCE / 4 * rate), int(loud[0]))
    return [
        (int(first) - margin, min(len(samples), int(last) + 1 + margin))
        for first, last in zip(firsts, lasts, strict=True)
    ]


def _period(samples: FloatArray, stretches: list[tuple[int, int]], peak: float) -> int | None:
    """Return from one repeat to the next, None if there is one stretch or they are not alike."""
    steps = np.diff([first for first, _ in stretches])
    if not len(steps) or np.ptp(steps) > 0:
        return None
    length = min(last - first for first, last in stretches)
    one = samples[stretches[0][0] : stretches[0][0] + length]
    for first, _ in stretches[1:]:
        if np.abs(samples[first : first + length] - one).max() > _ALIKE * peak:
            return None
    return int(steps[0])


def _kind(wave: FloatArray, rate: int) -> tuple[float, float, float | None]:
    """Return the band that a sound covers [Hz], and its time of e-folding [s] if it is a sweep."""
    size = fast_size(2 * len(wave))
    spectrum = np.fft.rfft(wave, size)
    later = np.fft.rfft(wave * (np.arange(len(wave)) / rate), size)
    frequency, power, delay = _by_bands(spectrum, later, rate / size)
    # An exponential sweep has as much in every octave, noise as much in every hertz.
    even = power * frequency
    best = _longest(even > _EVEN * float(even.max()))
    folding = _folding(frequency, delay, best, len(wave) / rate)
    if folding is None:
        best = _longest((power > _BELONGS * power.max()) | (even > _BELONGS * even.max()))
    return float(frequency[best][0]), float(frequency[best][-1]), folding


def _folding(frequency: FloatArray, delay: FloatArray, best: slice, length: float) -> float | None:
    """Return in what time a sweep grows e-fold [s], None if it is no exponential one."""
    # Where it is faded the mean delay is off: its outer parts say nothing of the line.
    inner = slice(best.start + _BANDS // 2, best.stop - _BANDS // 2)
    if inner.stop - inner.start < _BANDS:
        return None
    line = np.polynomial.Polynomial.fit(np.log(frequency[inner]), delay[inner], 1).convert()
    off = np.abs(delay[inner] - line(np.log(frequency[inner])))
    folding = float((*line.coef, 0.0)[1])
    # A steady tone is a line too, on which there is hardly a time of growing.
    grows = 0.02 * length < folding < length
    return folding if grows and float(np.quantile(off, 0.9)) < _STRAIGHT * length else None


def _by_bands(
    spectrum: ComplexArray, later: ComplexArray, step: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return frequency [Hz], mean power and mean delay [s] by parts of an octave."""
    top = len(spectrum) * step
    edges = 5.0 * 2 ** (np.arange(0, math.floor(_BANDS * math.log2(top / 5.0)) + 1) / _BANDS)
    places = np.unique(np.searchsorted(np.arange(len(spectrum)) * step, edges))
    power = np.add.reduceat(np.abs(spectrum) ** 2, places)[:-1]
    moment = np.add.reduceat((later * spectrum.conj()).real, places)[:-1]
    middle = np.sqrt(places[:-1] * places[1:]) * step
    return middle, power / np.diff(places), moment / np.maximum(power, 1e-300)


def _longest(inside: np.ndarray) -> slice:
    """Return the longest run of what is inside."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], inside, [False]]).astype(int)))
    runs = edges.reshape(-1, 2)
    first, last = runs[int(np.argmax(runs[:, 1] - runs[:, 0]))]
    return slice(int(first), int(last))
