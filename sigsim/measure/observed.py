"""A ratio as a fit looks at it: not more points than say something new, and what may distort it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.physics.source import angular

if TYPE_CHECKING:
    from sigsim.measure.response import Ratio
    from sigsim.measure.unknowns import Values
    from sigsim.physics.arrays import ComplexArray, FloatArray

# A circuit of resistors, coils and capacitors says nothing new within a 48th of an octave.
_PER_OCTAVE: Final = 48
# What is heard, and what the sweep holds [Hz].
LOWEST, HIGHEST = 20.0, 20e3
# No converter is flat and straight to better than this, whatever the noise says [-].
_FLOOR: Final = 1e-4
# From here on the phase may turn by noise alone, and the logarithm is no longer even.
_LOST: Final = 0.2
# Delays that are tried where a search begins [s]: each recording starts where most of it arrives,
# which behind a resonance of some hundred hertz is milliseconds late.
FARTHEST, _DELAYS = 4e-3, 2001
# Points that show the best of them.
_POINTS: Final = 100


@dataclass(frozen=True, eq=False)
class Observed:
    """One ratio with the circuit that should explain it.

    Attributes
    ----------
    ratio : as it was measured
    predict : from values and jω [rad/s] to the ratio of the circuit [-]
    frequency : [Hz], shape (frequency,)
    log : ln T without `delay`, shape (frequency,)
    sigma : standard error of its real and imaginary part, None where nothing is known
    delay : taken out already [s]
    level : of the recording below over where it is loudest [-], shape (frequency,)
    straight : whether no delay is looked for: what a table holds most often was brought in line
    """

    ratio: Ratio
    predict: Callable[[Values, ComplexArray], ComplexArray]
    frequency: FloatArray
    log: ComplexArray
    sigma: FloatArray | None
    delay: float
    level: FloatArray
    straight: bool

    @property
    def jw(self) -> ComplexArray:
        """jω [rad/s]."""
        return angular(self.frequency)

    def apart(self, values: Values) -> ComplexArray:
        """Return ln(measured/circuit), its phase between -π and π, shape (sets, frequency)."""
        return wrapped(self.log - np.log(self.predict(values, self.jw)))


def observe(
    ratio: Ratio,
    predict: Callable[[Values, ComplexArray], ComplexArray],
    low: float = LOWEST,
    high: float = HIGHEST,
) -> Observed:
    """Return a ratio as a fit looks at it, from `low` to `high` [Hz]."""
    return _observed(ratio, predict, low, high, straight=ratio.sigma is None)


def loosened(o: Observed) -> Observed:
    """Return a table as one whose delay may be any."""
    return _observed(o.ratio, o.predict, o.frequency[0], o.frequency[-1], straight=False)


def _observed(
    ratio: Ratio,
    predict: Callable[[Values, ComplexArray], ComplexArray],
    low: float,
    high: float,
    *,
    straight: bool,
) -> Observed:
    seen = (ratio.frequency >= low) & (ratio.frequency <= high) & (np.abs(ratio.T) > 0)
    seen &= np.isfinite(ratio.T)
    if ratio.sigma is not None:
        seen &= ratio.sigma < _LOST
    f, T = ratio.frequency[seen], ratio.T[seen]
    sigma = None if ratio.sigma is None else ratio.sigma[seen]
    delay = best_delay(f, np.angle(T)) if ratio.delayed and not straight else 0.0
    log = np.log(np.abs(T)) + 1j * np.angle(T * np.exp(1j * 2 * math.pi * f * delay))
    level = np.ones_like(f) if ratio.level is None else ratio.level[seen]
    thin, log, sigma = _thinned(f, log, sigma)
    return Observed(ratio, predict, thin, log, sigma, delay, np.interp(thin, f, level), straight)


def _thinned(
    f: FloatArray, log: ComplexArray, sigma: FloatArray | None
) -> tuple[FloatArray, ComplexArray, FloatArray | None]:
    """Return the means of what lies within a 48th of an octave, the surer the heavier."""
    place = np.floor(_PER_OCTAVE * np.log2(f / LOWEST)).astype(int)
    _, first, group = np.unique(place, return_index=True, return_inverse=True)
    weight = np.ones_like(f) if sigma is None else 1 / (sigma**2 + _FLOOR**2 / 100)

    def mean(x: FloatArray) -> FloatArray:
        return np.bincount(group, weight * x) / np.bincount(group, weight)

    # Relative to the first of its group a phase does not jump.
    steps = wrapped(log - log[first][group])
    centre = log[first] + mean(steps.real) + 1j * mean(steps.imag)
    found = np.exp(mean(np.log(f)))
    if sigma is None:
        return found, centre, None
    return found, centre, np.sqrt(1 / np.bincount(group, weight) + _FLOOR**2)


def wrapped(log: ComplexArray) -> ComplexArray:
    """Return a complex logarithm with its phase brought between -π and π."""
    turned: ComplexArray = log.real + 1j * (np.remainder(log.imag + math.pi, 2 * math.pi) - math.pi)
    return turned


def best_delay(f: FloatArray, phase: FloatArray) -> float:
    """Return the delay [s] that, taken out of a phase [rad] over `f` [Hz], leaves least of it."""
    if f.size < 2:
        return 0.0
    few = slice(None, None, max(1, f.size // _POINTS))
    # As dense in the logarithm as a fit is, whatever the grid.
    weight = np.gradient(np.log(f[few]))
    left = _turns(tuple(f[few])) @ (weight * np.exp(1j * phase[few]))
    return float(_delays()[np.argmax(left.real)])


def _delays() -> FloatArray:
    return np.linspace(-FARTHEST, FARTHEST, _DELAYS)


@lru_cache(maxsize=8)
def _turns(f: tuple[float, ...]) -> ComplexArray:
    turns: ComplexArray = np.exp(2j * math.pi * np.outer(_delays(), f))
    return turns
