"""From a fit to figures with intervals, and which of them cannot be told apart."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from itertools import combinations
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.measure.result import Assumed, Figure
from sigsim.measure.unknowns import spread

if TYPE_CHECKING:
    from sigsim.measure.solving import Solved
    from sigsim.measure.unknowns import Values
    from sigsim.physics.arrays import FloatArray
    from sigsim.units import Quantity

# 95 of 100 of a normal distribution lie within this many standard deviations.
SURE: Final = 1.96
# From here on two figures move together, and so far each must then be open to be worth a word.
_TOGETHER, _OPEN = 0.98, 0.05
_STEP: Final = 1e-5


def plain(solved: Solved, name: str, unit: str) -> Figure:
    """Return the figure of one unknown.

    Parameters
    ----------
    solved : a fit
    name : of the unknown
    unit : SI
    """
    i = solved.index(name)
    u, x, sigma = solved.unknowns[i], solved.x[i], solved.sigma(name)
    low, high = (float(u.outside(np.asarray(x + s * SURE * sigma))) for s in (-1, 1))
    value = float(u.outside(np.asarray(x)))
    return Figure(value, max(low, 0.0), high, unit)


def reciprocal(solved: Solved, name: str, unit: str, most: float = math.inf) -> Figure:
    """Return the figure of one over an unknown; only its lower bound where it may be infinite.

    Parameters
    ----------
    solved : a fit
    name : of the unknown
    unit : SI, of the figure
    most : from here on only the bound can be told
    """
    found = plain(solved, name, "")
    value, low, high = found.value, found.low, found.high
    least = 1 / high if high else None
    if not low or not isinstance(value, float) or 1 / value > most:
        return Figure(None, least, None, unit)
    return Figure(1 / value, least, 1 / low, unit)


def combined(
    solved: Solved, combine: Callable[[Values], FloatArray], unit: str, *, log: bool = True
) -> Figure:
    """Return the figure that follows from several unknowns.

    Parameters
    ----------
    solved : a fit
    combine : from values of shape (sets, 1) to the figure [`unit`]
    unit : SI
    log : whether the interval is even in the figure's logarithm
    """
    n = solved.x.size
    sets = np.vstack((solved.x, solved.x + _STEP * np.eye(n), solved.x - _STEP * np.eye(n)))
    found = np.asarray(combine(spread(solved.unknowns, sets)), dtype=float)[:, 0]
    value = float(found[0])
    if log and np.all(found > 0):
        found = np.log(found)
    slope = (found[1 : n + 1] - found[n + 1 :]) / (2 * _STEP)
    wide = SURE * float(np.sqrt(max(slope @ solved.covariance @ slope, 0.0)))
    if log and value > 0:
        return Figure(value, value * math.exp(-wide), value * math.exp(wide), unit)
    return Figure(value, value - wide, value + wide, unit)


def half_width(figure: Figure) -> float:
    """Return half an interval as a part of its value; infinite for a bound."""
    value, low, high = figure.value, figure.low, figure.high
    if not isinstance(value, float) or low is None or high is None or value <= 0:
        return math.inf
    return (high - low) / 2 / value


def not_told_apart(
    solved: Solved, keys: Mapping[str, str], helped: Sequence[str] = ()
) -> tuple[tuple[str, str], ...]:
    """Return the pairs of figures of which the recordings themselves tell only a combination.

    Parameters
    ----------
    solved : a fit
    keys : of the board file, by unknown
    helped : unknowns whose own prior does not count as told by the recordings
    """
    covariance = solved.without(helped)
    pairs = []
    for one, two in combinations(keys, 2):
        i, j = solved.index(one), solved.index(two)
        sigma = [_relative(solved, k, solved.covariance) for k in (i, j)]
        alike = covariance[i, j] / np.sqrt(covariance[i, i] * covariance[j, j])
        if abs(alike) > _TOGETHER and SURE * min(sigma) > _OPEN:
            pairs.append((keys[one], keys[two]))
    return tuple(pairs)


def _relative(solved: Solved, i: int, covariance: FloatArray) -> float:
    """Return the standard error of an unknown as a part of its value."""
    sigma = float(np.sqrt(covariance[i, i]))
    u = solved.unknowns[i]
    return sigma if u.log else sigma / max(abs(float(solved.x[i])), 1e-12)


def rests_on(quantity: Quantity, unit: str, *, given: bool) -> Assumed:
    """Return what a figure rests on.

    Parameters
    ----------
    quantity : as it was told, or taken
    unit : SI
    given : whether the user said it
    """
    return Assumed(float(quantity.value), quantity.tolerance, given, unit)
