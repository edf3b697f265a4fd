"""What is wrong with a recording, as the response shows that was made of it."""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from sigsim.errors import SigsimError
from sigsim.measure.faults import another, broken
from sigsim.measure.spectra import fast_size, rising

if TYPE_CHECKING:
    from sigsim.measure.deconvolve import Pulse
    from sigsim.measure.played import Played
    from sigsim.physics.arrays import ComplexArray, FloatArray

# Delays that circuits of a pedal board have differ by less over the band [s]: with one repeat two
# clocks can make 1 ms more of it.
_SPREAD: Final = 3e-3
# A delay that changes by so much within a fifth of an octave and stays is a piece that is missing.
_STEP: Final = 5e-4
# No computer that cannot keep up loses more than this at once [s].
_LONGEST: Final = 0.5
_LOWEST: Final = 300.0
# What a second arrival has at least [-]: -45 dB; and where it is looked for [s].
_ECHO: Final = 10 ** (-45 / 20)
_FIRST, _LAST = 1e-3, 0.3
_SHARP: Final = 2e-3
# A piece of a sweep is wrong where it differs from what the response makes of it, or from its other
# repeats, by so much of its power, and so many times more than the quietest tenth of a sweep does.
_WRONG: Final = 0.1
_UNLIKE: Final = 0.01
_UNUSUAL: Final = 25.0
# A run of exact zeros in the middle of a sound [s].
_NOTHING: Final = 6e-4


def check_whole(pulse: Pulse, grid: FloatArray, H: ComplexArray, where: str) -> None:
    """See that no piece of an only sweep is missing, which makes what follows arrive early.

    Raises
    ------
    SigsimError : one is, or so much that it is another sweep
    """
    edges, delays, below, above = _delays(grid, H)
    jump = float(np.abs(above - below).max())
    at = 3 + int(np.argmax(np.abs(above - below)))
    # On both sides of a missing piece all arrives at one time.
    even = max(float(np.ptp(side)) for side in (delays[: at - 1], delays[at + 1 :])) < 0.4 * jump
    if jump > _STEP and even:
        raise broken(where, f"{1000 * jump:.1f} ms, about {float(edges[at]):.0f} Hz")
    if (apart := _torn(pulse, edges[::2])) > _LONGEST:
        drift = f"one that drifts from it by {apart:.1f} s"
        raise another(pulse.blocks.played, where, drift)
    if apart > _SPREAD:
        raise broken(where, f"{1000 * apart:.0f} ms")


def check_sweep(pulse: Pulse, grid: FloatArray, H: ComplexArray, where: str) -> None:
    """See that all of the sweep arrives at one time, as the one that was played does.

    Raises
    ------
    SigsimError : another sweep was played
    """
    _, _, below, above = _delays(grid, H)
    if (spread := float(np.ptp(np.concatenate([below, above])))) > _SPREAD:
        found = f"one that drifts from it by {1000 * spread:.0f} ms"
        raise another(pulse.blocks.played, where, found)


def _delays(
    grid: FloatArray, H: ComplexArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return edges of bands [Hz], the delay in each, and what is usual below and above each [s]."""
    edges = np.geomspace(min(_LOWEST, 0.2 * grid[-1]), 0.9 * grid[-1], 25)
    delays = np.array([_delay(grid, H, low, high) for low, high in pairwise(edges)])
    below = np.array([np.median(delays[max(0, k - 6) : k]) for k in range(3, 22)])
    above = np.array([np.median(delays[k : k + 6]) for k in range(3, 22)])
    return edges, delays, below, above


def _torn(pulse: Pulse, edges: FloatArray) -> float:
    """Return how far apart two parts of the band arrive, each at one time [s]; 0 if they do not."""
    rate, size = pulse.blocks.rate, pulse.blocks.size
    spectrum = pulse.mean * pulse.inverse
    times = []
    for low, high in pairwise(edges):
        part = spectrum[int(low * size / rate) : int(high * size / rate)]
        envelope = np.abs(np.fft.ifft(part, fast_size(4 * len(part))))
        place = int(np.argmax(envelope)) / len(envelope)
        times.append((place - (place > 0.5)) * size / rate)
    apart = 0.0
    for k in range(2, len(times) - 2):
        # The band in which it is torn may go either way.
        below, above = times[: k - 1], times[k + 1 :]
        jump = abs(float(np.median(above) - np.median(below)))
        if max(np.ptp(below), np.ptp(above)) < 0.3 * jump:
            apart = max(apart, jump)
    return apart


def _delay(grid: FloatArray, H: ComplexArray, low: float, high: float) -> float:
    """Return the mean delay of a band, each point counting by its power [s]."""
    first, last = np.searchsorted(grid, (low, high))
    first, last = max(0, first - 1), max(last, first + 2)
    part, step = H[first:last], np.diff(grid[first:last])
    turns = part[1:] * part[:-1].conj()
    return float(np.average(-np.angle(turns) / (2 * np.pi * step), weights=np.abs(turns) + 1e-300))


def check_echo(pulse: Pulse, where: str) -> None:
    """See that the sweep arrives once.

    Raises
    ------
    SigsimError : it arrives twice
    """
    blocks = pulse.blocks
    played, rate, size = blocks.played, blocks.rate, blocks.size
    spectrum = np.fft.rfft(pulse.ring)
    frequency = np.arange(len(spectrum), dtype=float) * (rate / size)
    high = min(16_000.0, 0.85 * played.high)
    first = int(1.2 * played.low * size / rate)
    spectrum[:first] = np.abs(spectrum[first])
    spectrum *= rising((high - frequency) / (0.6 * high))
    envelope = np.abs(np.fft.irfft(spectrum, size))
    top = float(envelope.max())
    time = (np.arange(size) - int(np.argmax(envelope)) + size // 2) % size - size // 2
    seconds = time / rate
    near = (np.abs(seconds) > _FIRST) & (np.abs(seconds) < _LAST)
    if played.folding is not None:
        for order in range(2, 12):
            near &= np.abs(seconds + played.folding * math.log(order)) > 5e-3
    usual = float(np.median(envelope[near]))
    second = np.where(near, envelope, 0.0)
    # What is spread over milliseconds is another sweep, or one with a piece that is missing.
    sharp = float(np.count_nonzero(second > 0.5 * second.max())) / rate < _SHARP
    if sharp and float(second.max()) > max(_ECHO * top, 8 * usual):
        late = float(seconds[int(np.argmax(second))])
        level = 20 * math.log10(float(second.max()) / top)
        raise SigsimError(
            "the sweep arrives twice: switch off the direct monitoring of the interface, and every "
            "programme that plays what it records, and record again",
            where=where,
            found=f"a second arrival of {level:.0f} dB {1000 * abs(late):.1f} ms "
            + ("later" if late > 0 else "earlier"),
        )


def check_gaps(samples: Any, pulse: Pulse, grid: FloatArray, H: ComplexArray, where: str) -> None:
    """See that no piece of a sweep differs from the others, or from what the response makes of it.

    Raises
    ------
    SigsimError : a piece is missing or out of place
    """
    blocks = pulse.blocks
    rate, size = blocks.rate, blocks.size
    each = max(8, rate // 1000)
    count = len(blocks.played.wave) // each
    bins = np.arange(len(pulse.sweep)) * (rate / size / blocks.factor)
    inside = (bins >= grid[0]) & (bins <= grid[-1])
    if single := len(blocks.spectra) == 1:
        model = np.zeros(len(bins), dtype=complex)
        model[inside] = np.interp(bins[inside], grid, H) * pulse.sweep[inside]
        made = np.roll(np.fft.irfft(model, size), pulse.late)
    else:
        made = np.fft.irfft(pulse.mean * inside, size)
    expected = _around(_power(made, count, each))
    rests = [_power(np.fft.irfft(one * inside, size) - made, count, each) for one in blocks.spectra]
    # A repeat that is not like the others stands out more than one that is not as it should be.
    limit = (_WRONG if single else _UNLIKE) * expected
    within = _within(blocks.played, count, each)
    wrong = [within & (rest > np.maximum(limit, _UNUSUAL * _quietest(rest))) for rest in rests]
    parts = [np.where(bad, rest, 0.0) / expected for bad, rest in zip(wrong, rests, strict=True)]
    worst = max(range(len(parts)), key=lambda k: float(parts[k].max()))
    if wrong[worst].any():
        at = int(np.argmax(parts[worst])) * each
        raise broken(where, f"near {(blocks.arrivals[worst] + at) / rate:.2f} s")
    _check_zeros(samples, blocks.arrivals, np.repeat(expected, each), rate, where)


def _quietest(power: FloatArray) -> float:
    """Return the power of the quietest tenth, no period of hum being told from another."""
    longer = power[: len(power) // 20 * 20].reshape(-1, 20).mean(axis=1)
    return float(np.quantile(longer, 0.1))


def _power(wave: FloatArray, count: int, each: int) -> FloatArray:
    """Return the mean power of stretches of a wave."""
    return np.asarray((wave[: count * each].reshape(count, each) ** 2).mean(axis=1))


def _around(power: FloatArray) -> FloatArray:
    """Return the highest of what lies around, as far as half a slow period."""
    highest = np.maximum.reduce([np.roll(power, k) for k in range(-25, 26, 5)])
    return np.asarray(np.maximum(highest, np.finfo(float).tiny))


@lru_cache(maxsize=2)
def _within(played: Played, count: int, each: int) -> Any:
    """Return which stretches of a sweep have their sound within its grid, a little inside."""
    size = fast_size(len(played.wave))
    spectrum = np.fft.rfft(played.wave, size)
    bins = np.arange(len(spectrum)) * (played.rate / size)
    spectrum[(bins < played.grid[0]) | (bins > played.grid[-1])] = 0.0
    power = _power(np.fft.irfft(spectrum, size), count, each)
    highest = _around(power)
    power = np.minimum.reduce([np.roll(highest, k) for k in (-30, 0, 30)])
    within = power > 0.25 * np.median(power)
    within[:60] = within[-10:] = False
    return within


def _check_zeros(
    samples: Any, arrivals: FloatArray, expected: FloatArray, rate: int, where: str
) -> None:
    """See that there is no run of zeros where so much sound should be that none can round to it."""
    run = max(16, math.ceil(_NOTHING * rate))
    skipped = rate // 20
    for arrival in arrivals:
        first = max(0, round(arrival)) + skipped
        part = np.abs(samples[first : first + len(expected) - 2 * skipped])
        sums = np.cumsum(np.concatenate([[0], part > 0]))
        empty = sums[run:] == sums[:-run]
        if not empty.any():
            continue
        finest = float(part[part > 0].min(initial=1.0))
        loud = expected[skipped : skipped + len(empty)] > (20 * finest) ** 2
        if (empty & loud).any():
            at = (first + int(np.argmax(empty & loud))) / rate
            raise broken(where, f"no sound at all at {at:.2f} s")
