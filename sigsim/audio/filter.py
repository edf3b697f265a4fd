"""The filter between two circuits: `H_state / H_reference` with its phase, causal and aligned.

How it is built
---------------
Phase: the filter has the phase of the model, neither linear nor minimum by decree. It is causal:
nothing comes out before the note goes in, so there is no pre-ringing at all, and no latency: the
output is aligned with the input, sample by sample.

Nyquist: the model is followed from 20 Hz to 0.45 times the sample rate. Above, it cannot be
followed, because a digital response is mirrored at half the sample rate. There the gain runs on
freely, as little above that at the edge as an aligned causal filter allows (`audio.treble`).

Length: as long as the circuit rings or settles. What the short filter of `audio.treble` lacks at
low frequencies comes from an inverse transform, made longer, from an eighth of a second to 16 s,
until the finished filter agrees with the model; then the end that adds nothing is cut off. Pickup
and cables need some ten milliseconds, coupling capacitors up to seconds.

DC: the limit of the model as far as the length can tell. Where the reference blocks DC and the
state does not, the ratio grows without bound towards 0 Hz; there a high-pass far below 20 Hz
holds it, and DC itself as far as the length allows.

Every filter is compared with the model after it is built, at frequencies between those it was
built from; `Filter` says how far it is off. Two kinds of model have no aligned causal filter as
close as 0.05 dB and 1 degree up to 0.45 times the rate: those that still rise or fall steeply
there (a lower rate makes that likelier), and cables with a large loss tangent, which no causal
circuit has at all frequencies alike. And where there is one, its gain above may be so large that
a recording with much up there would come out shrill. These get a calm filter: small gain above,
as close to the model but less far up, and less close from there to 0.45 times the rate.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.audio.treble import EDGE, ShortFit, folded_response
from sigsim.metrics import LOWEST_HZ

if TYPE_CHECKING:
    from sigsim.audio.treble import Ratio
    from sigsim.physics.arrays import ComplexArray, FloatArray

# What a filter promises.
MOST_DB, MOST_DEG = 0.05, 1.0
# The short filter: taps, and from where on [of the sample rate] it must do. The second is for
# sharp resonances below, the third for those above.
_SHORT: Final = ((256, 0.024), (512, 0.1), (1024, 0.02))
# Lengths of the transform [s]; never more than this many points, never fewer than that.
_LENGTHS: Final = (0.125, 0.5, 2.0, 16.0)
_MOST, _LEAST = 1 << 21, 1 << 11
# What its end adds from 20 Hz on must be less than this, relative to the response.
_LOST: Final = 1e-3
# The long filter fades out between these multiples of where the short one begins.
_FADE: Final = (1.5, 6.0)
# A response that differs less than this from a constant is one.
_SAME: Final = 1e-12
# What is cut off at the end adds less than this, of the largest gain.
_REST: Final = 1e-7
# The high-pass where the ratio rises by decades towards DC [Hz], shared by its poles.
_LEAK_HZ: Final = 0.15
_NEAR_DC_HZ: Final = (1e-4, 1e-3, 1e-2, 0.1, 1.0)
_MOST_POLES: Final = 6
# The model is asked for so many frequencies at once: what it keeps of the last few grids of a long
# chain would be most of the memory otherwise.
_AT_ONCE: Final = 1 << 12


@dataclass(frozen=True)
class Filter:
    """A causal filter at one sample rate.

    Attributes
    ----------
    taps : impulse response, shape (taps,)
    level_error : the largest difference from the model in level, 20 Hz to the edge [dB]
    phase_error : likewise in phase [degrees]
    above_edge : the largest gain from 0.45 to half the rate, over the largest below [dB]
    edge : up to where it follows the model [of the sample rate]; 0.45 but for a calm one
    widest_level_error, widest_phase_error : the errors from 20 Hz to 0.45 of the rate
    """

    taps: FloatArray
    level_error: float
    phase_error: float
    above_edge: float
    edge: float = EDGE
    widest_level_error: float = 0.0
    widest_phase_error: float = 0.0

    @property
    def keeps_promise(self) -> bool:
        """Whether it is within 0.05 dB and 1 degree of the model up to 0.45 of the rate."""
        return self.edge == EDGE and self.error <= 1

    @property
    def error(self) -> float:
        """The error as a multiple of what is promised."""
        return max(self.level_error / MOST_DB, self.phase_error / MOST_DEG)

    @property
    def worth(self) -> float:
        """How good it is: far is better than near, close better than loose."""
        return self.edge - EDGE - max(math.log(max(self.error, 1e-6)), 0.0)

    def gain(self, size: int) -> FloatArray:
        """Return its gain [-] on the bins of a transform of a size, from 0 to half the rate."""
        return np.abs(folded_response(self.taps, size))


def build_filter(ratio: Ratio, rate: float, most: float | None = None) -> Filter:
    """Return the filter of a response at a sample rate.

    Parameters
    ----------
    ratio : gives the response [-] at frequencies [Hz], finite from 20 Hz to half the rate
    rate : sample rate [Hz]
    most : what the gain above 0.45 of the rate may be over the largest below [dB], for a recording
        that has much there; the model then is followed less far where that is the price

    Returns
    -------
    Filter : the closest there is; its errors say how close
    """
    model = _Bounded(ratio)
    constant = _constant(model(np.linspace(0, rate / 2, _LEAST)))
    if constant is not None:
        return Filter(np.array([constant]), 0.0, 0.0, 0.0)
    slope = _Slope.of(model, rate)
    best = _built(model, slope, rate, *_SHORT[0], most)
    for taps, begin in _SHORT[1:]:
        if best.keeps_promise:
            break
        found = _built(model, slope, rate, taps, begin, most)
        if found.worth <= best.worth:
            break
        best = found
    return best


def _built(
    model: _Bounded, slope: _Slope, rate: float, taps: int, begin: float, most: float | None
) -> Filter:
    """Return the filter with a short part of so many taps."""
    fit = ShortFit(lambda f: model(f) / slope(f), rate, taps)
    rough = fit.rough(begin)
    for seconds in _LENGTHS:
        length = min(max(1 << math.ceil(math.log2(seconds * rate)), _LEAST), _MOST)
        grid: FloatArray = np.arange(length + 1, dtype=np.float64) * (rate / (2 * length))
        coarse: FloatArray = grid[::2]
        long, settled = _long(rough, begin, model(coarse) / slope(coarse), rate)
        if settled:
            break
    whole = long
    short = fit.best(long, most)
    whole[:taps] += short.taps
    return _measured(slope.applied(whole), model, grid, rate, short.edge)


def _constant(target: ComplexArray) -> float | None:
    """Return the gain of a response that is the same everywhere, None for any other."""
    first = float(target[-1].real)
    return first if bool(np.all(np.abs(target - first) <= _SAME * abs(first))) else None


def _long(
    rough: FloatArray, begin: float, wanted: ComplexArray, rate: float
) -> tuple[FloatArray, bool]:
    """Return what a rough short filter lacks at low frequencies, and whether that is all of it.

    Parameters
    ----------
    rough : the short filter, shape (taps,)
    begin : from where on it does alone [of the sample rate]
    wanted : the whole response [-] from 0 to half the sample rate
    rate : [Hz]
    """
    from scipy.fft import irfft, rfft

    length = 2 * (wanted.size - 1)
    place = np.maximum(np.arange(wanted.size), 1) / length / begin
    fade = 1 - np.clip(np.log(place / _FADE[0]) / np.log(_FADE[1] / _FADE[0]), 0, 1)
    both = irfft((wanted - rfft(rough, length)) * fade, length)
    # The second half of what is kept goes out softly: what is cut off a slow decay so lies far
    # below 20 Hz.
    half = both[: length // 2]
    ending = np.clip(np.arange(length // 2) / (length // 4) - 1, 0, 1)
    taps: FloatArray = half * np.cos(np.pi / 2 * ending) ** 2
    band = slice(math.ceil(LOWEST_HZ / rate * length), int(EDGE * length))
    lost = np.abs(rfft(half - taps, length)[band]) / np.abs(wanted[band])
    return taps, bool(lost.max() < _LOST)


def _measured(
    taps: FloatArray, model: _Bounded, grid: FloatArray, rate: float, edge: float
) -> Filter:
    """Return the filter with its distance from the model, on a grid twice as dense as its own."""
    from scipy.fft import rfft

    band = (grid >= LOWEST_HZ) & (grid <= EDGE * rate)
    near = grid[band] <= edge * rate
    target = model.unbounded(grid[band])
    rest = np.cumsum(np.abs(taps[::-1]))[::-1]
    taps = taps[: max(int(np.count_nonzero(rest > _REST * np.abs(target).max())), 1)]
    response = rfft(taps, 2 * (grid.size - 1))
    gain = np.abs(response)
    with np.errstate(divide="ignore"):
        level = np.abs(20 * np.log10(gain[band] / np.abs(target)))
        above = 20 * np.log10(gain[grid > EDGE * rate].max() / gain[band].max())
    phase = np.abs(np.angle(response[band] / target, deg=True))
    closest = float(level[near].max()), float(phase[near].max())
    return Filter(taps, *closest, float(above), edge, float(level.max()), float(phase.max()))


class _Bounded:
    """A response that is finite at DC."""

    def __init__(self, ratio: Ratio) -> None:
        self.ratio = ratio
        size = np.abs(ratio(np.array(_NEAR_DC_HZ)))
        falls = np.log10(size[:-1] / size[1:]) if size.all() else np.zeros(1)
        self.poles = max(round(float(falls.max())), 0)

    def unbounded(self, frequency: FloatArray) -> ComplexArray:
        """Return the response [-] as it is at frequencies [Hz] above 0."""
        response = np.empty(frequency.size, complex)
        for start in range(0, frequency.size, _AT_ONCE):
            part = slice(start, start + _AT_ONCE)
            response[part] = self.ratio(frequency[part])
        return response

    def __call__(self, frequency: FloatArray) -> ComplexArray:
        """Return the response [-] at frequencies [Hz], the first of which may be 0."""
        f = frequency.copy()
        at_dc = f[0] == 0
        if at_dc:
            f[0] = f[1] / 10
        response = self.unbounded(f)
        if self.poles:
            order = self.poles + 1
            response = response * (1j * f / (1j * f + _LEAK_HZ / order)) ** order
        if at_dc:
            response[0] = response[0].real
        return response


@dataclass(frozen=True)
class _Slope:
    """A high-pass that rises as the response does at 20 Hz, taken out before and put in after.

    What is left is of like size everywhere, so that its faintest part is as exact as its loudest.

    Attributes
    ----------
    rate : sample rate [Hz]
    poles : how many
    corner : their frequency [Hz]; as many zeros are at 1 Hz
    """

    rate: float
    poles: int
    corner: float

    @classmethod
    def of(cls, model: _Bounded, rate: float) -> _Slope:
        """Return the high-pass of a response."""
        f = np.geomspace(LOWEST_HZ, EDGE * rate, 1000)
        slope = np.gradient(np.log(np.abs(model(f))), np.log(f))
        poles = min(max(round(slope[0]), 0), _MOST_POLES)
        corner = f[np.argmax(slope < poles / 2)] if poles else LOWEST_HZ
        return cls(rate, poles, float(corner))

    def _places(self) -> tuple[float, float]:
        """Return the zero and the pole in the plane of z."""
        return math.exp(-2 * math.pi / self.rate), math.exp(-2 * math.pi * self.corner / self.rate)

    def __call__(self, frequency: FloatArray) -> ComplexArray:
        """Return its response [-] at frequencies [Hz]."""
        zero, pole = self._places()
        back = np.exp(-2j * np.pi * frequency / self.rate)
        response: ComplexArray = ((1 - zero * back) / (1 - pole * back)) ** self.poles
        return response

    def applied(self, taps: FloatArray) -> FloatArray:
        """Return taps behind it."""
        if not self.poles:
            return taps
        # Imported only here: it takes longer to load than a usual filter takes to build.
        from scipy.signal import lfilter

        zero, pole = self._places()
        for _ in range(self.poles):
            taps = lfilter([1.0, -zero], [1.0, -pole], taps)
        return taps
