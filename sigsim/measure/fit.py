"""Fitting a circuit to ratios: least squares, and how sure each number then is.

Beside the circuit each ratio has a delay, a gain and a little compression of its own. What was
told of a number is one more residual. The errors are those of linear theory at the solution.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.measure.observed import best_delay, wrapped
from sigsim.measure.unknowns import Unknown, coordinates, spread

if TYPE_CHECKING:
    from sigsim.measure.observed import Observed
    from sigsim.physics.arrays import ComplexArray, FloatArray

# The gain between two recordings is told to be within 0.01 dB, 19 times of 20: each has the
# root of half of that.
_GAIN: Final = 0.01 / 1.96 / math.sqrt(2) * math.log(10) / 20
# A table says nothing of its errors: what the search begins with, and how often it is found anew.
_TABLE, _ROUNDS = 0.01, 3
# A table is rounded or smoothed: closer than this it cannot be [-].
_CLOSEST: Final = 1e-4
_STEP: Final = 1e-6
# The worst third harmonic whose compression is still taken for gentle [-].
_HARMONIC: Final = 0.01
# Searches begun from the likeliest starts.
_SEARCHES: Final = 3


@dataclass(frozen=True, eq=False)
class Solved:
    """What a fit found.

    Attributes
    ----------
    unknowns : of the circuit and of the ratios
    x : where the search ended, shape (unknowns,)
    covariance : of `x`, with all that was told
    J : of all residuals of the data over their errors, shape (residuals, unknowns)
    inflation : of the variance of the data over what their errors say
    misfit : sum of squares of the data over their errors
    residuals : ln(measured/circuit) of each ratio, delay and gain taken out
    observed : what was fitted
    """

    unknowns: tuple[Unknown, ...]
    x: FloatArray
    covariance: FloatArray
    J: FloatArray
    inflation: float
    misfit: float
    residuals: tuple[ComplexArray, ...]
    observed: tuple[Observed, ...]

    @property
    def values(self) -> Mapping[str, FloatArray]:
        """Values [SI] by name, each of shape (1, 1)."""
        return spread(self.unknowns, self.x[None, :])

    def value(self, name: str) -> float:
        """Return one value [SI]."""
        return float(self.values[name][0, 0])

    @property
    def residual_db(self) -> float:
        """What the circuit leaves unexplained of the level, root mean square [dB]."""
        level = np.concatenate([r.real for r in self.residuals])
        return float(np.sqrt(np.mean(level**2)) * 20 / math.log(10))

    def sigma(self, name: str) -> float:
        """Return the standard error of an unknown, where the search stands."""
        i = self.index(name)
        return float(np.sqrt(self.covariance[i, i]))

    def index(self, name: str) -> int:
        """Return the place of an unknown."""
        return next(i for i, u in enumerate(self.unknowns) if u.name == name)

    def without(self, names: Iterable[str]) -> FloatArray:
        """Return the covariance as it were if nothing had been told of some unknowns."""
        left = [u for u in self.unknowns if u.name in set(names)]
        return _covariance(self.J, self.unknowns, self.inflation, left)


class _Problem:
    """The residuals of one fit, and how they move with the unknowns."""

    def __init__(self, unknowns: Sequence[Unknown], observed: Sequence[Observed]) -> None:
        self.circuit = tuple(unknowns)
        self.observed = tuple(observed)
        self.unknowns = (*unknowns, *(u for i, o in enumerate(observed) for u in _own(i, o)))
        self.errors = [
            np.full(o.frequency.shape, _TABLE) if o.sigma is None else o.sigma for o in observed
        ]
        self._priors = [(i, *u.prior) for i, u in enumerate(self.unknowns) if u.prior is not None]

    def bounds(self) -> tuple[FloatArray, FloatArray]:
        low = np.array([u.inside(u.low) for u in self.unknowns])
        return low, np.array([u.inside(u.high) for u in self.unknowns])

    def left(self, x: FloatArray) -> list[ComplexArray]:
        """Return ln(measured/circuit) of each ratio, its own delay, gain, compression out."""
        circuit = spread(self.circuit, x[None, : len(self.circuit)])
        place, left = len(self.circuit), []
        for i, o in enumerate(self.observed):
            own = _own(i, o)
            shift = _own_columns(o, own) @ x[place : place + len(own)]
            place += len(own)
            left.append(wrapped(o.apart(circuit)[0] + shift))
        return left

    def residuals(self, x: FloatArray) -> FloatArray:
        told = [(x[i] - centre) / sigma for i, centre, sigma in self._priors]
        return np.concatenate((self.data(self.left(x)), told))

    def data(self, left: Sequence[ComplexArray]) -> FloatArray:
        both = [np.concatenate((r.real, r.imag)) / np.tile(e, 2)
                for r, e in zip(left, self.errors, strict=True)]  # fmt: skip
        return np.concatenate(both)

    def slope_of_data(self, x: FloatArray) -> FloatArray:
        """Return how the data's residuals move with each unknown."""
        n = len(self.circuit)
        low, high = self.bounds()
        steps = np.where(x[:n] + _STEP <= high[:n], _STEP, -_STEP)
        sets = np.vstack((x[:n], x[:n] + np.diag(steps)))
        values = spread(self.circuit, sets)
        rows, place = [], n
        for i, (o, e) in enumerate(zip(self.observed, self.errors, strict=True)):
            apart = o.apart(values)
            moved = wrapped(apart[1:] - apart[0]) / steps[:, None]
            own = _own_columns(o, _own(i, o))
            J = np.zeros((o.frequency.size, len(self.unknowns)), dtype=complex)
            J[:, :n] = moved.T
            J[:, place : place + own.shape[1]] = own
            place += own.shape[1]
            rows.append(np.vstack((J.real, J.imag)) / np.tile(e, 2)[:, None])
        return np.vstack(rows)

    def slope(self, x: FloatArray) -> FloatArray:
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
        low, high = self.bounds()
        margin = 1e-6 * (high - low)
        return np.clip(x, low + margin, high - margin)

    def weigh(self, x: FloatArray) -> None:
        """Find the errors of the tables among the ratios from what is left of them."""
        for i, (o, left) in enumerate(zip(self.observed, self.left(x), strict=True)):
            if o.sigma is None:
                found = max(float(np.sqrt(np.mean(np.abs(left) ** 2) / 2)), _CLOSEST)
                self.errors[i] = np.full(o.frequency.shape, found)


def solve(
    unknowns: Sequence[Unknown],
    observed: Sequence[Observed],
    starts: Sequence[Mapping[str, float]] = ({},),
) -> Solved:
    """Fit a circuit to ratios.

    Parameters
    ----------
    unknowns : of the circuit
    observed : the ratios
    starts : where to begin, each with values [SI] for some of the unknowns

    Returns
    -------
    Solved, the best of what was found from all starts
    """
    problem = _Problem(unknowns, observed)
    places = sorted(
        (problem.place(start) for start in starts),
        key=lambda x: float(np.sum(problem.residuals(x) ** 2)),
    )
    ends = [_search(problem, x) for x in places[:_SEARCHES]]
    x = min(ends, key=lambda end: float(np.sum(problem.residuals(end) ** 2)))
    if any(o.sigma is None for o in observed):
        for _ in range(_ROUNDS):
            problem.weigh(x)
            x = _search(problem, x)
    return _solved(problem, x)


def _search(problem: _Problem, x: FloatArray) -> FloatArray:
    from scipy.optimize import least_squares

    found = least_squares(
        problem.residuals, x, problem.slope, problem.bounds(), x_scale="jac", max_nfev=80,
        ftol=1e-9, xtol=1e-9, gtol=1e-9,
    )  # fmt: skip
    end: FloatArray = found.x
    return end


def _solved(problem: _Problem, x: FloatArray) -> Solved:
    left = problem.left(x)
    data, J = problem.data(left), problem.slope_of_data(x)
    misfit = float(np.sum(data**2))
    inflation = max(1.0, misfit / max(1, data.size - x.size)) * _alike(problem, left)
    covariance = _covariance(J, problem.unknowns, inflation, [])
    return Solved(
        problem.unknowns, x, covariance, J, inflation, misfit, tuple(left), problem.observed
    )


def _alike(problem: _Problem, left: Sequence[ComplexArray]) -> float:
    """Return how many neighbouring points say the same: the variance of a mean over that of one.

    For a residual that is like its neighbour by ρ it is (1 + ρ)/(1 - ρ), as of a first-order
    autoregression (G. V. Bayley and J. M. Hammersley, J. Royal Statistical Society 8 (1946)).
    """
    by = above = 0.0
    for r, e in zip(left, problem.errors, strict=True):
        for part in (r.real / e, r.imag / e):
            above += float(np.sum(part[1:] * part[:-1]))
            by += float(np.sum(part**2))
    rho = min(max(above / by if by else 0.0, 0.0), 0.95)
    return (1 + rho) / (1 - rho)


def _covariance(
    J: FloatArray, unknowns: Sequence[Unknown], inflation: float, untold: Sequence[Unknown]
) -> FloatArray:
    H = J.T @ J / inflation
    for i, u in enumerate(unknowns):
        if u.prior is not None and u not in untold:
            H[i, i] += 1 / u.prior[1] ** 2
    size = np.sqrt(np.where(np.diag(H) > 0, np.diag(H), 1.0))
    by, axes = np.linalg.eigh(H / np.outer(size, size))
    inverse = (axes / np.maximum(by, 1e-14)) @ axes.T
    covariance: FloatArray = inverse / np.outer(size, size)
    return covariance


def _own(i: int, o: Observed) -> tuple[Unknown, ...]:
    """Return what a ratio has of its own: gain [ln], compression [ln], delay [s]."""
    made = [Unknown(f"gain {i}", 0.0, -0.5, 0.5, False, _GAIN, 0.0, _GAIN)]
    if o.ratio.third:
        # The cubic term that makes a third harmonic h changes the fundamental by 3h:
        # sin³x = (3 sin x - sin 3x)/4.
        h = 3 * min(abs(o.ratio.third), _HARMONIC)
        made.append(Unknown(f"compression {i}", 0.0, -10 * h, 10 * h, False, h, 0.0, h))
    if o.ratio.delayed:
        made.append(Unknown(f"delay {i}", 0.0, -1e-3, 1e-3, False, 1e-6))
    return tuple(made)


def _own_columns(o: Observed, own: Sequence[Unknown]) -> ComplexArray:
    """Return how ln(measured/circuit) moves with each of them, shape (frequency, own)."""
    columns: dict[str, ComplexArray] = {
        "gain": np.full(o.frequency.shape, -1.0 + 0j),
        "compression": (1.0 - np.exp(2 * o.log.real)).astype(complex),
        "delay": o.jw,
    }
    return np.stack([u.scale * columns[u.name.split()[0]] for u in own], axis=-1)
