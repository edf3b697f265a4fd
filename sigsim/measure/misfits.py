"""What is wrong with a recording, as the response shows that was made of it."""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from sigsim.errors import SigsimError
from sigsim.measure.faults import another, broken, clipping
from sigsim.measure.spectra import Window, Windows, fast_size, rising

if TYPE_CHECKING:
    from sigsim.measure.deconvolve import Pulse
    from sigsim.measure.played import Played
    from sigsim.physics.arrays import ComplexArray, FloatArray

# Delays that circuits of a pedal board have differ by less over the band [s]: with one repeat two
# clocks can make 1 ms more of it.
_SPREAD: Final = 3e-3
# A delay that changes by so much within a fifth of an octave and stays is a piece that is missing.
_STEP: Final = 5e-4
_LOWEST: Final = 300.0
# Harmonics beyond this part are those of something overdriven [-].
_OVERDRIVE: Final = 0.01
_ORDERS: Final = (2, 3, 5)
# A third of an octave, in points of the grid.
_SMOOTH: Final = 32
# What a second arrival has at least [-]: -45 dB; and where it is looked for [s].
_ECHO: Final = 10 ** (-45 / 20)
_FIRST, _LAST = 1e-3, 0.3
# A piece of a sweep is wrong where it differs from what is usual by so much of its power, and so
# many times more than the quietest tenth of the sweep does.
_WRONG: Final = 0.1
_UNUSUAL: Final = 25.0
# A run of exact zeros in the middle of a sound [s].
_NOTHING: Final = 6e-4


def check_sweep(pulse: Pulse, grid: FloatArray, H: ComplexArray, where: str) -> None:
    """See that all of the sweep arrives at one time, as the one that was played does.

    Raises
    ------
    SigsimError : another sweep was played, or a piece of it is missing
    """
    edges = np.geomspace(min(_LOWEST, 0.2 * grid[-1]), 0.9 * grid[-1], 25)
    delays = np.array([_delay(grid, H, low, high) for low, high in pairwise(edges)])
    below = np.array([np.median(delays[max(0, k - 6) : k]) for k in range(3, 22)])
    above = np.array([np.median(delays[k : k + 6]) for k in range(3, 22)])
    jump = float(np.abs(above - below).max())
    steps = np.abs(np.diff(delays))
    spread = float(np.ptp(np.concatenate([below, above])))
    single = len(pulse.blocks.spectra) == 1
    sudden = float(np.sort(steps)[-2:].sum()) > 0.7 * spread
    if single and jump > _STEP and sudden:
        at = float(edges[3 + int(np.argmax(np.abs(above - below)))])
        raise broken(where, f"{1000 * jump:.1f} ms, about {at:.0f} Hz")
    if spread > _SPREAD:
        raise another(
            pulse.blocks.played, where, f"one that drifts from it by {1000 * spread:.0f} ms"
        )


def _delay(grid: FloatArray, H: ComplexArray, low: float, high: float) -> float:
    """Return the mean delay of a band, each point counting by its power [s]."""
    first, last = np.searchsorted(grid, (low, high))
    first, last = max(0, first - 1), max(last, first + 2)
    part, step = H[first:last], np.diff(grid[first:last])
    turns = part[1:] * part[:-1].conj()
    return float(np.average(-np.angle(turns) / (2 * np.pi * step), weights=np.abs(turns) + 1e-300))


def check_overdrive(pulse: Pulse, grid: FloatArray, H: ComplexArray, where: str) -> float:
    """Return how much third harmonic there is where the recording is loudest [-].

    Raises
    ------
    SigsimError : a harmonic is so loud that something is overdriven
    """
    folding = pulse.blocks.played.folding
    if folding is None:
        return 0.0
    third = 0.0
    size = np.abs(H)
    for order in _ORDERS:
        inside = grid * order < 0.98 * grid[-1]
        inside &= grid > 60.0
        if inside.sum() < _SMOOTH:
            continue
        there = _harmonic(pulse, grid[inside], order, folding)
        at_it = np.interp(order * grid[inside], grid, size)
        part = there / np.maximum(size[inside], at_it)
        if float(part.max()) > _OVERDRIVE:
            at = float(grid[inside][int(np.argmax(part))])
            found = f"{100 * float(part.max()):.1f} % of harmonic {order} at {at:.0f} Hz"
            raise clipping(where, found)
        if order == 3:
            loud = size[inside] > 0.5 * size[inside].max()
            third = float(np.median((there / size[inside])[loud]))
    return third


def _harmonic(pulse: Pulse, grid: FloatArray, order: int, folding: float) -> FloatArray:
    """Return the level of a harmonic by the frequency of its fundamental, noise taken off."""
    rate = pulse.blocks.rate / pulse.blocks.factor
    apart = 0.4 * folding * math.log((order + 1) / order)
    before, after = min(0.02, apart), min(0.05, apart)
    windows = Windows(pulse.blocks.rate, order * grid, Window(before, before / 2, after, after / 2))
    factor = pulse.blocks.factor
    early = round(folding * math.log(order) * rate)
    # Between this harmonic and the next nothing arrives but noise.
    between = round(folding * (math.log(order) + math.log(order + 1)) / 2 * rate)
    power = np.abs(windows.response(pulse.ring, factor, -early)) ** 2
    noise = np.abs(windows.response(pulse.ring, factor, -between)) ** 2
    kernel = np.ones(_SMOOTH) / _SMOOTH
    surplus = np.convolve(power - 2 * noise, kernel, mode="same")
    return np.sqrt(np.maximum(surplus, 0.0))


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
    if float(second.max()) > max(_ECHO * top, 8 * usual):
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
    """See that no piece of a sweep differs from what the response makes of it.

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
    model = np.zeros(len(bins), dtype=complex)
    model[inside] = np.interp(bins[inside], grid, H) * pulse.sweep[inside]
    made = np.roll(np.fft.irfft(model, size), pulse.late)
    expected = _power(made, count, each)
    expected = _around(expected)
    heard = [_power(np.fft.irfft(one * inside, size) - made, count, each) for one in blocks.spectra]
    usual = min(float(np.quantile(rest, 0.1)) for rest in heard)
    within = _within(blocks.played, count, each)
    for which, rest in enumerate(heard):
        wrong = (rest > _WRONG * expected) & (rest > _UNUSUAL * usual) & within
        if wrong.any():
            worst = int(np.argmax(np.where(wrong, rest, 0.0) / np.maximum(expected, 1e-300)))
            at = (blocks.arrivals[which] + worst * each) / rate
            raise broken(where, f"near {at:.2f} s")
    _check_zeros(samples, blocks.arrivals, np.repeat(expected, each), rate, where)


def _power(wave: FloatArray, count: int, each: int) -> FloatArray:
    """Return the mean power of stretches of a wave."""
    return np.asarray((wave[: count * each].reshape(count, each) ** 2).mean(axis=1))


def _around(power: FloatArray) -> FloatArray:
    """Return the highest of what lies around, as far as half a slow period."""
    return np.asarray(np.maximum.reduce([np.roll(power, k) for k in range(-25, 26, 5)]))


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
