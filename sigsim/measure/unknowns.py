"""What a fit looks for, and what it was told: each a number with a start, bounds, perhaps a prior.

What multiplies (a coil's henries) is sought by its logarithm, what adds up (a conductance, a
capacitance that may be none) as it is: so that an interval is even where its errors are.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, TypeAlias

import numpy as np

if TYPE_CHECKING:
    from sigsim.physics.arrays import FloatArray
    from sigsim.units import Quantity

    # A value for each unknown by name: a number, or one for each set with shape (sets, 1).
    Values: TypeAlias = Mapping[str, FloatArray]

# Anywhere within a tolerance is as likely as anywhere else: the standard deviation of an even
# spread is its half width over this (JCGM 100:2008, the "GUM", 4.3.7).
EVEN: Final = math.sqrt(3)
# How far beyond its tolerance a part is looked for, in half widths.
_BEYOND: Final = 3.0
# What is told without a tolerance still has to be a number that can be moved.
_EXACT: Final = 1e-6
# That of 0, in any unit: less than anything that is measured.
_NONE: Final = 1e-18


@dataclass(frozen=True)
class Unknown:
    """One number to find.

    Attributes
    ----------
    name : by which the model asks for it
    start : where the search begins [SI]
    low, high : bounds [SI]
    log : whether its logarithm is sought
    scale : a typical size [SI], for a step of a search that is not by logarithm
    centre, sigma : of what was told of it [SI; of the logarithm where `log`], None for nothing
    """

    name: str
    start: float
    low: float
    high: float
    log: bool = True
    scale: float = 1.0
    centre: float | None = None
    sigma: float | None = None

    def inside(self, value: float) -> float:
        """Return where the search stands at a value [SI]."""
        return math.log(value) if self.log else value / self.scale

    def outside(self, x: FloatArray) -> FloatArray:
        """Return the value [SI] where the search stands at `x`."""
        with np.errstate(over="ignore"):  # the end of an interval that has none
            return np.asarray(np.exp(x) if self.log else x * self.scale)

    @property
    def prior(self) -> tuple[float, float] | None:
        """Centre and standard deviation where the search stands; None for nothing told."""
        if self.centre is None or self.sigma is None:
            return None
        if self.log:
            return math.log(self.centre), self.sigma
        return self.centre / self.scale, self.sigma / self.scale


def told(name: str, quantity: Quantity, *, within: float | None = None) -> Unknown:
    """Return an unknown of which a quantity with its tolerance was told.

    Parameters
    ----------
    name : by which the model asks for it
    quantity : what was told [SI]
    within : half the width of the range in the unit of the value, in place of the tolerance
    """
    value = float(quantity.value)
    half = max(within if within is not None else quantity.tolerance * value, _EXACT * value, _NONE)
    sigma, least = half / EVEN, value - _BEYOND * half
    low = least if within is not None else max(least, 1e-4 * value)
    return Unknown(name, value, low, value + _BEYOND * half, False, half, value, sigma)


def widened(unknowns: Sequence[Unknown], wider: Mapping[str, float]) -> tuple[Unknown, ...]:
    """Return unknowns of which some are told less surely.

    Parameters
    ----------
    unknowns : any
    wider : the new standard deviation [as `Unknown.sigma`], by name
    """
    return tuple(_wider(u, wider.get(u.name)) for u in unknowns)


def _wider(u: Unknown, sigma: float | None) -> Unknown:
    if sigma is None or u.sigma is None or u.centre is None or u.log or sigma <= u.sigma:
        return u
    low, high = u.centre - _BEYOND * EVEN * sigma, u.centre + _BEYOND * EVEN * sigma
    # What no part has less than stays a bound.
    if u.low > 0:
        low = max(low, 1e-4 * u.centre)
    return replace(u, sigma=sigma, low=min(low, u.low), high=max(high, u.high))


def coordinates(unknowns: tuple[Unknown, ...], values: Mapping[str, float]) -> FloatArray:
    """Return where the search stands at values [SI]; what is not given is at its start."""
    return np.array([u.inside(values.get(u.name, u.start)) for u in unknowns])


def spread(unknowns: tuple[Unknown, ...], sets: FloatArray) -> Values:
    """Return the values [SI] of several places of a search.

    Parameters
    ----------
    unknowns : in the order of the columns
    sets : places, shape (sets, unknowns)
    """
    return {u.name: u.outside(sets[:, i : i + 1]) for i, u in enumerate(unknowns)}
