"""What is wrong with a recording, as the response shows that was made of it."""

from __future__ import annotations

import math
from dataclasses import dataclass
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
_SHARP: Final = 2e-3
# A piece of a sweep is wrong where it differs from what the response makes of it, or from its other
# repeats, by so much of its power, and so many times more than the quietest tenth of a sweep does.
_WRONG: Final = 0.1
_UNLIKE: Final = 0.01
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
    spread = float(np.ptp(np.concatenate([below, above])))
    at = 3 + int(np.argmax(np.abs(above - below)))
    # On both sides of a missing piece all arrives at one time.
    even = max(float(np.ptp(side)) for side in (delays[: at - 1], delays[at + 1 :])) < 0.4 * jump
    if len(pulse.blocks.spectra) == 1 and jump > _STEP and even:
        raise broken(where, f"{1000 * jump:.1f} ms, about {float(edges[at]):.0f} Hz")
    if spread > _SPREAD:
        if (apart := _torn(pulse, edges[::2])) > _SPREAD:
            raise broken(where, f"{1000 * apart:.0f} ms")
        found = f"one that drifts from it by {1000 * spread:.0f} ms"
        raise another(pulse.blocks.played, where, found)


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


@dataclass(frozen=True)
class Harmonic:
    """One harmonic of a recording.

    Attributes
    ----------
    order : 2 for the second
    fundamental : [Hz], shape (frequency,)
    part : of the louder of the fundamental and of what the response has there [-]
    level : of the fundamental alone, at its loudest [-]
    """

    order: int
    fundamental: FloatArray
    part: FloatArray
    level: float


def harmonics(pulse: Pulse, grid: FloatArray, H: ComplexArray) -> list[Harmonic]:
    """Return the harmonics of a recording, none if no exponential sweep was played."""
    folding = pulse.blocks.played.folding
    found: list[Harmonic] = []
    if folding is None:
        return found
    size = np.abs(H)
    for order in _ORDERS:
        inside = (grid * order < 0.98 * grid[-1]) & (grid > 60.0)
        if inside.sum() < 2 * _SMOOTH:
            continue
        there = _harmonic(pulse, grid[inside], order, folding)
        # It may arise before the circuit or behind it.
        at_it = np.interp(order * grid[inside], grid, size)
        loud = size[inside] > 0.5 * size[inside].max()
        level = float(np.median((there / size[inside])[loud]))
        part = there / np.maximum(size[inside], at_it)
        found.append(Harmonic(order, grid[inside], part, level))
    return found


def check_overdrive(found: list[Harmonic], where: str, *, everywhere: bool) -> None:
    """See that no harmonic is so loud that something is overdriven.

    Parameters
    ----------
    found : the harmonics
    where : the file
    everywhere : whether only what is overdriven over most of the band counts, so that it cannot be
        the trace of something else

    Raises
    ------
    SigsimError : one is
    """
    for harmonic in found:
        most = float(harmonic.part.max())
        if (float(np.median(harmonic.part)) if everywhere else most) > _OVERDRIVE:
            at = float(harmonic.fundamental[int(np.argmax(harmonic.part))])
            raise clipping(where, f"{100 * most:.1f} % of harmonic {harmonic.order} at {at:.0f} Hz")


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
    usual = min(_quietest(rest) for rest in rests)
    # A repeat that is not like the others stands out more than one that is not as it should be.
    limit = np.maximum((_WRONG if single else _UNLIKE) * expected, _UNUSUAL * usual)
    worst = max(range(len(rests)), key=lambda k: float((rests[k] / expected).max()))
    wrong = (rests[worst] > limit) & _within(blocks.played, count, each)
    if wrong.any():
        at = int(np.argmax(np.where(wrong, rests[worst] / expected, 0.0))) * each
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
