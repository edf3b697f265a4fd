"""From the sweeps of a recording to one impulse response, its clock, and what repeats leave."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from sigsim.measure.spectra import Window, fast_size, rising

if TYPE_CHECKING:
    from sigsim.measure.finding import Found
    from sigsim.measure.played import Played
    from sigsim.measure.spectra import Windows
    from sigsim.physics.arrays import ComplexArray, FloatArray

# What is taken of the silence before and behind a sweep at most [s]; its outer part is tapered.
_LEAD: Final = 0.3
_TAIL: Final = 1.6
_TAPER: Final = 0.25
# What counts of a response: see Window [s].
_BEFORE: Final = 0.15
_AFTER: Final = 0.5
# A spectrum is divided by another where this has at least such a part of its power.
_FLOOR: Final = 1e-7
# Rings can be cut into this many parts, so that their spectra can be averaged in groups.
COARSER: Final = 30
# Delays are first told from frequencies that no coarse place can be a turn off [Hz], then from all.
_COARSE_TOP: Final = 3000.0
_LOWEST: Final = 200.0
_GROUPS: Final = 400


@dataclass(frozen=True, eq=False)
class Blocks:
    """The sweeps of one recording, each a ring that begins where it does.

    Attributes
    ----------
    played : what was played
    rate : of the recording [Hz]
    size : of a ring [samples]
    body : samples of a ring from the start of the sweep to the end of its tail
    spectra : of each, already shifted to the arrival of the first, shape (size // 2 + 1,)
    arrivals : of each in the recording [samples]
    clock : how much faster the recording's clock ran [-], None with one repeat
    """

    played: Played
    rate: int
    size: int
    body: int
    spectra: list[ComplexArray]
    arrivals: FloatArray
    clock: float | None

    @property
    def factor(self) -> float:
        """What a frequency of the player is here [-]."""
        return 1 / (1 + (self.clock or 0.0))

    @property
    def uneven(self) -> float:
        """How far an arrival is from where an even clock has it [s]."""
        if len(self.arrivals) < 3:
            return 0.0
        steps = np.arange(len(self.arrivals))
        line = np.polynomial.Polynomial.fit(steps, self.arrivals, 1)
        return float(np.abs(self.arrivals - line(steps)).max()) / self.rate


def window_of(played: Played) -> Window:
    """Return what counts of a response: no harmonic, and not more than the silence holds."""
    apart = math.inf if played.folding is None else played.folding * math.log(2)
    before = min(_BEFORE, 0.6 * apart)
    after = min(_AFTER, max(0.6 * played.gap, 0.02))
    return Window(before, before / 3, after, after / 2)


def cut(samples: Any, found: Found, played: Played) -> Blocks:
    """Cut the sweeps out of a recording and shift all to the arrival of the first.

    Parameters
    ----------
    samples : shape (samples,)
    found : where they begin
    played : what was played
    """
    rate = played.rate
    lead = math.ceil(min(_LEAD, 0.3 * played.gap) * rate)
    tail = math.ceil(min(_TAIL, 0.6 * played.gap) * rate)
    body = len(played.wave) + tail
    size = COARSER * fast_size(math.ceil((body + lead) / COARSER))
    begins = [round(start) for start in found.starts]
    spectra = [np.fft.rfft(_ring(samples, begin, lead, body, size, rate)) for begin in begins]
    shifts = np.array(found.starts) - begins
    spectra[0] *= _turned(shifts[0], size)
    for k in range(1, len(spectra)):
        shifts[k] += _align(spectra, k, shifts[k], played, size)
    arrivals = np.array(begins) + shifts
    clock = None
    if len(arrivals) > 1 and played.period:
        steps = np.arange(len(arrivals)) - (len(arrivals) - 1) / 2
        clock = float(steps @ arrivals / (steps @ steps)) / played.period - 1
    return Blocks(played, rate, size, body, spectra, arrivals, clock)


def _ring(samples: Any, begin: int, lead: int, body: int, size: int, rate: int) -> FloatArray:
    """Return a stretch, tapered at its ends, so that it goes round from the start of the sweep."""
    ring = np.zeros(size)
    first, last = max(0, begin - lead), min(len(samples), begin + body)
    ring[-lead:][first - begin + lead :] = samples[first:begin] if begin > 0 else 0.0
    ring[: last - max(0, begin)] = samples[max(0, begin) : last]
    taper = min(round(_TAPER * rate), lead)
    ramp = rising(np.arange(taper) / taper)
    ring[size - lead : size - lead + taper] *= ramp
    ring[body - taper : body] *= ramp[::-1]
    return ring


def _align(
    spectra: list[ComplexArray], which: int, shift: float, played: Played, size: int
) -> float:
    """Shift a repeat to the first one; return by how much more than `shift` it was late."""
    first, this = spectra[0], spectra[which]
    this *= _turned(shift, size)
    cross = first.conj() * this
    low = min(max(_LOWEST, 1.5 * played.low), 0.1 * played.high)
    bins = [int(f * size / played.rate) for f in (low, _COARSE_TOP, 0.9 * played.high)]
    more = _slope(cross, bins[0], min(bins[1:]), size)
    more += _slope(cross, bins[0], bins[2], size, more)
    this *= _turned(more, size)
    return more


def _turned(early: float, size: int) -> ComplexArray:
    """Return what makes a ring earlier by a part of a sample."""
    return np.asarray(np.exp(2j * np.pi / size * early * np.arange(size // 2 + 1)))


def _slope(cross: ComplexArray, first: int, last: int, size: int, known: float = 0.0) -> float:
    """Return the delay [samples] that a stretch of a cross spectrum has beyond a known one."""
    each = max(1, (last - first) // _GROUPS)
    last = first + (last - first) // each * each
    length = np.abs(cross[first:last])
    whole = cross[first:last] / np.where(length > 0, length, 1.0)
    frequency = np.arange(first, last) / size
    if known:
        whole = whole * np.exp(2j * np.pi * known * frequency)
    sums = whole.reshape(-1, each).sum(axis=1)
    middle = frequency.reshape(-1, each).mean(axis=1)
    weight = np.abs(sums) ** 2 / each**2
    total = float(np.sum(weight * middle**2))
    phase = np.angle(sums)
    return -float(np.sum(weight * middle * phase)) / (2 * math.pi * total) if total else 0.0


@dataclass(frozen=True, eq=False)
class Pulse:
    """The mean of all repeats, deconvolved.

    Attributes
    ----------
    blocks : what it is of
    sweep : the sweep's spectrum by the recording's clock
    inverse : what a spectrum is multiplied with to deconvolve it
    mean : the mean spectrum of the repeats
    ring : the impulse response, its highest point first, shape (size,)
    late : of this point after the start of the blocks [samples]
    """

    blocks: Blocks
    sweep: ComplexArray
    inverse: ComplexArray
    mean: ComplexArray
    ring: FloatArray
    late: int


def deconvolve(blocks: Blocks) -> Pulse:
    """Return the mean of all repeats, deconvolved by the sweep as the recording's clock has it."""
    played, size = blocks.played, blocks.size
    sweep = played.spectrum(size, blocks.clock or 0.0)
    mean = blocks.spectra[0] / len(blocks.spectra)
    for spectrum in blocks.spectra[1:]:
        mean += spectrum / len(blocks.spectra)
    frequency = np.arange(len(sweep), dtype=float) * (blocks.rate / size / blocks.factor)
    power = sweep.real**2 + sweep.imag**2
    inside = (frequency > played.low) & (frequency < played.high)
    inverse = sweep.conj() / (power + _FLOOR * float(np.mean(power[inside])))
    inverse *= _band(frequency, played)
    ring = np.fft.irfft(mean * inverse, size)
    # Clocks that differ make the place where the sweep was found a little wrong.
    late = (int(np.argmax(np.abs(ring))) + size // 2) % size - size // 2
    return Pulse(blocks, sweep, inverse, mean, np.roll(ring, -late), late)


def _band(frequency: FloatArray, played: Played) -> FloatArray:
    """Return how much of each frequency is kept: all within a sweep, nothing far outside."""
    low = rising((frequency / played.low - 0.75) / 0.35)
    return low * rising((1.0 - frequency / played.high) / 0.05)


def response(pulse: Pulse, windows: Windows) -> ComplexArray:
    """Return the response on the grid of some windows.

    Near the ends of the band a window sees less of what is beyond it: what that does to an even
    response, and to one that changes evenly, is taken out.
    """
    even, sloping = _ends(pulse.blocks.played, windows)
    seen = windows.response(pulse.ring, pulse.blocks.factor)
    slope = np.gradient(seen / even, windows.grid)
    return np.asarray((seen - slope * sloping) / even)


def band_seen(played: Played, windows: Windows) -> ComplexArray:
    """Return what windows make of an even response, shape (frequency,)."""
    return _ends(played, windows)[0]


@lru_cache(maxsize=2)
def _ends(played: Played, windows: Windows) -> tuple[ComplexArray, ComplexArray]:
    """Return what windows make of a response of 1, and of one that is 0 here and rises evenly."""
    size = fast_size(2 * math.ceil(2 * (windows.window.after + _BEFORE) * played.rate))
    frequency = np.arange(size // 2 + 1, dtype=float) * (played.rate / size)
    band = _band(frequency, played)
    even = windows.response(np.fft.irfft(band, size))
    rise = windows.response(np.fft.irfft(band * frequency, size))
    return even, np.asarray(rise - windows.grid * even)
