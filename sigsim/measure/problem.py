"""The residuals of one fit: a circuit against ratios, and what was told of its parts.

Beside the circuit each ratio has a delay, a gain and a little compression of its own, and the drift
of a clock that is not known.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.measure.observed import FARTHEST, best_delay, wrapped
from sigsim.measure.unknowns import Unknown, coordinates, spread, widened

if TYPE_CHECKING:
    from sigsim.measure.observed import Observed
    from sigsim.physics.arrays import ComplexArray, FloatArray

# The gain between two recordings is told to be within 0.01 dB, 19 times of 20: each has the
# root of half of that.
_GAIN: Final = 0.01 / 1.96 / math.sqrt(2) * math.log(10) / 20
# A table says nothing of its errors: what a search begins with [-].
_TABLE: Final = 0.01
# A table is rounded or smoothed: closer than this it cannot be [-].
_CLOSEST: Final = 1e-4
# Points of a stretch, and how many standard errors off it begins to count less.
_STRETCH, _FURTHER = 5, 10.0
# Neighbours are never taken for more alike than this.
_ALIKE: Final = 0.95
_STEP: Final = 1e-6
# How far beyond what is usual a clock may be off, and where it only is a delay [Hz].
_WORST, MIDDLE = 7.0, 1e4
# The worst third harmonic whose compression is still taken for gentle [-].
_HARMONIC: Final = 0.01


class Problem:
    """The residuals of one fit, and how they move with the unknowns."""

    def __init__(
        self,
        unknowns: Sequence[Unknown],
        observed: Sequence[Observed],
        errors: Sequence[FloatArray] = (),
        wider: Mapping[str, float] = {},
    ) -> None:
        self.circuit = widened(unknowns, wider)
        self.observed = tuple(observed)
        own = widened([u for i, o in enumerate(observed) for u in _own(i, o)], wider)
        self.unknowns = (*self.circuit, *own)
        self._columns = [_own_columns(o, _own(i, o)) for i, o in enumerate(observed)]
        self.errors = list(errors) or [
            np.full(o.frequency.shape, _TABLE) if o.sigma is None else o.sigma for o in observed
        ]
        self._priors = [(i, *u.prior) for i, u in enumerate(self.unknowns) if u.prior is not None]

    @property
    def size(self) -> int:
        """How many numbers were measured."""
        return 2 * sum(o.frequency.size for o in self.observed)

    def bounds(self) -> tuple[FloatArray, FloatArray]:
        """Return between what a search moves."""
        low = np.array([u.inside(u.low) for u in self.unknowns])
        return low, np.array([u.inside(u.high) for u in self.unknowns])

    def left(self, x: FloatArray) -> list[ComplexArray]:
        """Return ln(measured/circuit) of each ratio, its own delay, gain, compression out."""
        circuit = spread(self.circuit, x[None, : len(self.circuit)])
        place, left = len(self.circuit), []
        for i, o in enumerate(self.observed):
            own = self._columns[i]
            shift = own @ x[place : place + own.shape[1]]
            place += own.shape[1]
            left.append(wrapped(o.apart(circuit)[0] + shift))
        return left

    def residuals(self, x: FloatArray) -> FloatArray:
        """Return what is left over its error: the data, then what was told."""
        told = [(x[i] - centre) / sigma for i, centre, sigma in self._priors]
        return np.concatenate((self.data(self.left(x)), told))

    def data(self, left: Sequence[ComplexArray]) -> FloatArray:
        """Return what is left of the data over its error."""
        both = [np.concatenate((r.real, r.imag)) / np.tile(e, 2)
                for r, e in zip(left, self.errors, strict=True)]  # fmt: skip
        return np.concatenate(both)

    def slope_of_data(self, x: FloatArray) -> FloatArray:
        """Return how the data's residuals move with each unknown."""
        n = len(self.circuit)
        high = self.bounds()[1]
        steps = np.where(x[:n] + _STEP <= high[:n], _STEP, -_STEP)
        sets = np.vstack((x[:n], x[:n] + np.diag(steps)))
        values = spread(self.circuit, sets)
        rows, place = [], n
        for i, (o, e) in enumerate(zip(self.observed, self.errors, strict=True)):
            apart = o.apart(values)
            moved = wrapped(apart[1:] - apart[0]) / steps[:, None]
            own = self._columns[i]
            J = np.zeros((o.frequency.size, len(self.unknowns)), dtype=complex)
            J[:, :n] = moved.T
            J[:, place : place + own.shape[1]] = own
            place += own.shape[1]
            rows.append(np.vstack((J.real, J.imag)) / np.tile(e, 2)[:, None])
        return np.vstack(rows)

    def slope(self, x: FloatArray) -> FloatArray:
        """Return how the residuals move with each unknown."""
        told = np.zeros((len(self._priors), len(self.unknowns)))
        for row, (i, _, sigma) in enumerate(self._priors):
            told[row, i] = 1 / sigma
        return np.vstack((self.slope_of_data(x), told))

    def place(self, start: Mapping[str, float]) -> FloatArray:
        """Return where a search begins: with the delays that suit the circuit at the start."""
        x = coordinates(self.unknowns, start)
        for i, (o, left) in enumerate(zip(self.observed, self.left(x), strict=True)):
            for j, u in enumerate(self.unknowns):
                if u.name == f"delay {i}" and u.prior is None:
                    x[j] = best_delay(o.frequency, left.imag) / u.scale
        return self._inside(x)

    def kept(self, values: Mapping[str, float]) -> FloatArray:
        """Return where a search begins that goes on from some values [SI]."""
        return self._inside(coordinates(self.unknowns, values))

    def _inside(self, x: FloatArray) -> FloatArray:
        low, high = self.bounds()
        margin = 1e-6 * (high - low)
        return np.clip(x, low + margin, high - margin)

    def weigh(self, x: FloatArray) -> None:
        """Find the errors of the tables among the ratios from what is left of them."""
        for i, (o, left) in enumerate(zip(self.observed, self.left(x), strict=True)):
            if o.sigma is None:
                self.errors[i] = _errors_of_table(left)

    def misfit(self, left: Sequence[ComplexArray]) -> float:
        """Return the sum of squares of what is left of the data over their errors."""
        return float(np.sum(self.data(left) ** 2))


def _errors_of_table(left: ComplexArray) -> FloatArray:
    """Return the errors of a table as what is left of it shows them.

    Most of the band says how large they are. Where a stretch is much further off, something else
    was recorded there, and it counts the less the further it is off (the weights that Cauchy's
    distribution asks for; P. J. Huber, *Robust Statistics*, chapter 7, from memory).
    """
    size = np.abs(left) / math.sqrt(2)
    # Half of the points are within 1.177 standard deviations (Rayleigh's distribution).
    common = max(float(np.median(np.abs(left))) / 1.177, _CLOSEST)
    around = np.ones(_STRETCH)
    near = np.sqrt(
        np.convolve(size**2, around, "same") / np.convolve(np.ones_like(size), around, "same")
    )
    errors: FloatArray = common * np.sqrt(1 + (near / (_FURTHER * common)) ** 2)
    return errors


def alike(left: Sequence[ComplexArray], errors: Sequence[FloatArray]) -> float:
    """Return how many neighbouring points say the same: the variance of a mean over that of one.

    For a residual that is like its neighbour by ρ it is (1 + ρ)/(1 - ρ), as of a first-order
    autoregression (G. V. Bayley and J. M. Hammersley, J. Royal Statistical Society 8 (1946)).
    """
    by = above = 0.0
    for r, e in zip(left, errors, strict=True):
        for part in (r.real / e, r.imag / e):
            above += float(np.sum(part[1:] * part[:-1]))
            by += float(np.sum(part**2))
    rho = min(max(above / by if by else 0.0, 0.0), _ALIKE)
    return (1 + rho) / (1 - rho)


def _own(i: int, o: Observed) -> tuple[Unknown, ...]:
    """Return what a ratio has of its own: gain, compression [ln], delay, drift [s]."""
    made = [Unknown(f"gain {i}", 0.0, -0.5, 0.5, False, _GAIN, 0.0, _GAIN)]
    if o.ratio.third:
        # The cubic term that makes a third harmonic h changes the fundamental by 3h:
        # sin³x = (3 sin x - sin 3x)/4.
        h = 3 * min(abs(o.ratio.third), _HARMONIC)
        made.append(Unknown(f"compression {i}", 0.0, -10 * h, 10 * h, False, h, 0.0, h))
    if o.ratio.delayed and not o.straight:
        made.append(Unknown(f"delay {i}", 0.0, -FARTHEST, FARTHEST, False, 1e-6))
    if drift := o.ratio.drift:
        most = _WORST * drift
        made.append(Unknown(f"drift {i}", 0.0, -most, most, False, drift, 0.0, drift))
    return tuple(made)


def _own_columns(o: Observed, own: Sequence[Unknown]) -> ComplexArray:
    """Return how ln(measured/circuit) moves with each of them, shape (frequency, own)."""
    columns: dict[str, ComplexArray] = {
        "gain": np.full(o.frequency.shape, -1.0 + 0j),
        "compression": (o.level**2 * (1.0 - np.exp(2 * o.log.real))).astype(complex),
        "delay": o.jw,
        "drift": o.jw * np.log(o.frequency / MIDDLE),
    }
    return np.stack([u.scale * columns[u.name.split()[0]] for u in own], axis=-1)
