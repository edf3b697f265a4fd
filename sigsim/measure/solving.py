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

from sigsim.measure.observed import loosened
from sigsim.measure.problem import Problem, alike
from sigsim.measure.unknowns import Unknown, spread

if TYPE_CHECKING:
    from sigsim.measure.observed import Observed
    from sigsim.physics.arrays import ComplexArray, FloatArray

# A table has a delay if no more than this part is left with it: a little less there would be with
# any circuit that does not quite fit.
_LOOSE: Final = 0.2
# How often the errors of a table are found anew, which says nothing of them itself.
_ROUNDS: Final = 3
# Searches begun from the likeliest starts; none is begun any more once the sum of squares is this
# many times what the errors alone would make.
_SEARCHES, _EXPLAINED = 4, 2.0
# From about here on an error counts less in what is left unexplained [-].
_NOISY: Final = 0.02
# Of a thousand numbers the sum of squares is this much more than expected in one of two thousand.
_ALL: Final = 1.15
# Where a search ends: steps, and what is gained by another one.
_MOST, _CLOSE = 100, 1e-10
# Errors of the data that a search begins with if it ends nowhere with their own [-].
_FLOORS: Final = (1e-2, 1e-3)
# And where one that goes on from another ends.
_FEW, _NEAR = 30, 1e-6


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
    errors : standard errors of the data of each ratio
    observed : what was fitted
    circuit : those of the unknowns that are of the circuit
    cost : sum of squares of the data and of what was told, over their errors
    doubts : what should be known of what was told, each a sentence
    """

    unknowns: tuple[Unknown, ...]
    x: FloatArray
    covariance: FloatArray
    J: FloatArray
    inflation: float
    misfit: float
    residuals: tuple[ComplexArray, ...]
    errors: tuple[FloatArray, ...]
    observed: tuple[Observed, ...]
    circuit: tuple[Unknown, ...]
    cost: float = 0.0
    doubts: tuple[str, ...] = ()

    @property
    def values(self) -> Mapping[str, FloatArray]:
        """Values [SI] by name, each of shape (1, 1)."""
        return spread(self.unknowns, self.x[None, :])

    def value(self, name: str) -> float:
        """Return one value [SI]."""
        return float(self.values[name][0, 0])

    def start(self) -> Mapping[str, float]:
        """Return where a search for a larger circuit begins [SI]."""
        return {name: float(value[0, 0]) for name, value in self.values.items()}

    @property
    def residual_db(self) -> float:
        """What the circuit leaves unexplained of the level, root mean square [dB]."""
        return self._mean_db([r.real for r in self.residuals])

    @property
    def noise_db(self) -> float:
        """What noise alone would leave of the level, root mean square [dB]."""
        return self._mean_db(self._noise)

    @property
    def _noise(self) -> list[FloatArray]:
        """The errors of each ratio as they were measured, of a table as they were found."""
        pairs = zip(self.observed, self.errors, strict=True)
        return [e if o.sigma is None else o.sigma for o, e in pairs]

    def _mean_db(self, levels: Sequence[FloatArray]) -> float:
        # What is mostly noise says nothing of the circuit.
        weight = 1 / (np.concatenate(self._noise) ** 2 + _NOISY**2)
        square = np.average(np.concatenate(levels) ** 2, weights=weight)
        return float(np.sqrt(square) * 20 / math.log(10))

    @property
    def left(self) -> float:
        """What the circuit leaves unexplained, level and phase, root mean square [ln]."""
        squares = np.concatenate([np.abs(r) ** 2 for r in self.residuals])
        return float(np.sqrt(np.median(squares)))

    @property
    def explains(self) -> bool:
        """Whether what is left is no more than errors that were known beforehand."""
        known = all(o.sigma is not None for o in self.observed)
        return known and self.misfit < _ALL * len(self.J)

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
    found = _once(unknowns, observed, starts)
    if not any(o.straight and o.ratio.delayed for o in observed):
        return found
    loose = _once(unknowns, [loosened(o) if o.straight else o for o in observed], starts)
    return loose if loose.left < _LOOSE * found.left else found


def _once(
    unknowns: Sequence[Unknown],
    observed: Sequence[Observed],
    starts: Sequence[Mapping[str, float]],
) -> Solved:
    problem = Problem(unknowns, observed)
    x = _best(problem, starts)
    if any(o.sigma is None for o in observed):
        for _ in range(_ROUNDS):
            problem.weigh(x)
            x = _search(problem, x)
    return _solved(problem, x)


def relieved(solved: Solved, wider: Mapping[str, float]) -> float:
    """Return what of the sum of squares goes if some is told less surely, by linear theory."""
    problem = Problem(solved.circuit, solved.observed, solved.errors, wider)
    r, J = problem.residuals(solved.x), problem.slope(solved.x)
    steps = np.linalg.lstsq(J, -r, rcond=None)[0]
    return solved.cost - float(np.sum((r + J @ steps) ** 2))


def again(solved: Solved, wider: Mapping[str, float], looser: float = 1.0) -> Solved:
    """Return a fit that was searched on from where another one ended.

    Parameters
    ----------
    solved : the other one
    wider : new standard deviations of what was told, by name of the unknown
    looser : what the errors of the data are multiplied by
    """
    errors = [looser * e for e in solved.errors]
    problem = Problem(solved.circuit, solved.observed, errors, wider)
    return _solved(problem, _search(problem, problem.kept(solved.start()), _FEW, _NEAR))


def gained(smaller: Solved, larger: Solved) -> float:
    """Return what a larger circuit takes off the sum of squares, by the errors that it leaves."""
    problem = Problem(larger.circuit, larger.observed, larger.errors)
    return (problem.misfit(smaller.residuals) - larger.misfit) / larger.inflation


def promised(solved: Solved, part: Unknown) -> float:
    """Return what one more part would take off the sum of squares, by linear theory.

    Parameters
    ----------
    solved : without the part, which is none at its lower bound
    part : what it would be; 0 is returned where less than none of it would be best
    """
    own = [u for u in solved.unknowns if u not in solved.circuit]
    problem = Problem((*solved.circuit, part), solved.observed, solved.errors)
    n = len(solved.circuit)
    x = np.concatenate(
        (solved.x[:n], [part.inside(part.low)], solved.x[len(solved.x) - len(own) :])
    )
    r, J = problem.residuals(x), problem.slope(x)
    steps = np.linalg.lstsq(J, -r, rcond=None)[0]
    if steps[n] <= 0:
        return 0.0
    return float(np.sum(r**2) - np.sum((r + J @ steps) ** 2)) / solved.inflation


def _best(problem: Problem, starts: Sequence[Mapping[str, float]]) -> FloatArray:
    """Return the best end of searches from the likeliest starts, the first that explains all."""

    def cost(x: FloatArray) -> float:
        return float(np.sum(problem.residuals(x) ** 2))

    ends: list[FloatArray] = []
    begun = sorted((problem.place(start) for start in starts), key=cost)[:_SEARCHES]
    for search in (_search, _downhill):
        for x in begun:
            ends.append(search(problem, x))
            if cost(ends[-1]) < _EXPLAINED * problem.size:
                return ends[-1]
    return min(ends, key=cost)


def _downhill(problem: Problem, x: FloatArray) -> FloatArray:
    """Search with wider errors first: the surer the data, the narrower is the way to what fits."""
    for floor in _FLOORS:
        errors = [np.maximum(e, floor) for e in problem.errors]
        wide = Problem(problem.circuit, problem.observed, errors)
        x = _search(wide, x, close=_NEAR)
    return _search(problem, x)


def _search(
    problem: Problem, x: FloatArray, most: int = _MOST, close: float = _CLOSE
) -> FloatArray:
    from scipy.optimize import least_squares

    found = least_squares(
        problem.residuals, x, problem.slope, problem.bounds(), x_scale="jac", max_nfev=most,
        ftol=close, xtol=close, gtol=close,
    )  # fmt: skip
    end: FloatArray = found.x
    return end


def _solved(problem: Problem, x: FloatArray) -> Solved:
    left = problem.left(x)
    data, J = problem.data(left), problem.slope_of_data(x)
    misfit = problem.misfit(left)
    inflation = max(1.0, misfit / max(1, data.size - x.size)) * alike(left, problem.errors)
    covariance = _covariance(J, problem.unknowns, inflation, [])
    return Solved(
        problem.unknowns, x, covariance, J, inflation, misfit, tuple(left),
        tuple(problem.errors), problem.observed,
        problem.circuit, float(np.sum(problem.residuals(x) ** 2)),
    )  # fmt: skip


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
