"""Which figure, changed alone, explains what was measured, and which cannot be told apart."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, TypeAlias

import numpy as np

from sigsim.measure.bands import NORMAL_95, PER_BAND
from sigsim.measure.candidates import ON, Candidate, Switched, candidates, switched
from sigsim.measure.predicted import RESISTOR, Prediction
from sigsim.measure.tried import INSTRUMENT, lateness
from sigsim.measure.verdict import Suspect

if TYPE_CHECKING:
    from sigsim.measure.predicted import Layout
    from sigsim.physics.arrays import FloatArray

    Progress: TypeAlias = Callable[[int], None]

# What is wrong with any measurement and any plan, and differs from one third octave to the next:
# standard deviation [dB]. What it blurs is not told apart.
_BLUR_DB: Final = 0.02
# Nine of χ² are three standard deviations: in 99.7 of 100 cases the truth is not further off than
# that from what fits best by chance.
_TOLD_APART: Final = 9.0
# What leaves more than this of a difference is not looked at more closely.
_HARDLY: Final = 0.85
_FINER: Final = np.linspace(0.0, 1.0, 9)
# Of what explains most, what explains less than this part is not named beside it: that it fits too
# only means that the tolerances nearly cover the difference.
_BESIDE: Final = 0.5
# A change under this [dB] is none.
_NOTHING_DB: Final = 1e-4
_FAR_DB: Final = 1e6


class Weighed:
    """Losses weighed by how sure they are, so that what is left can be added up as χ².

    Parameters
    ----------
    difference : of what was measured from the plan [dB], shape (points,)
    sigma : standard error of each point [dB]
    common : half the interval of what the points of one recording share [dB], shape
        (recordings, points), 0 where a point is of another one
    draws : of the plan within its tolerances less the plan [dB], shape (draws, points)
    """

    def __init__(
        self, difference: FloatArray, sigma: FloatArray, common: FloatArray, draws: FloatArray
    ) -> None:
        own = sigma**2 + PER_BAND * _BLUR_DB**2
        shared = common / NORMAL_95
        covariance = np.diag(own) + shared.T @ shared
        if len(draws):
            covariance += draws.T @ draws / len(draws)
        self._whiten = np.linalg.inv(np.linalg.cholesky(covariance)).T
        self.difference = np.nan_to_num(difference, nan=0.0, posinf=0.0, neginf=0.0)
        self._difference = self.difference @ self._whiten

    def left(self, change: FloatArray) -> FloatArray:
        """Return what a change leaves of the difference, in standard errors, shape (…, points)."""
        # Silence and a peak without end are far from whatever was measured.
        kept = np.nan_to_num(change, nan=_FAR_DB, posinf=_FAR_DB, neginf=-_FAR_DB)
        left: FloatArray = self._difference - kept @ self._whiten
        return left

    @property
    def chi2(self) -> float:
        """Of the whole difference."""
        return float(np.sum(self._difference**2))

    def explained(self, change: FloatArray) -> float:
        """Return how much of the difference [dB] a change takes away, 0 to 1."""
        before = float(np.sum(self.difference**2))
        after = float(np.sum((self.difference - change) ** 2))
        return max(0.0, 1 - float(np.sqrt(after / before))) if before else 0.0


@dataclass(frozen=True, eq=False)
class Fit:
    """A candidate as it explains most.

    Attributes
    ----------
    candidate : which
    value : what explains most [unit of the candidate], 1 or 0 for a switch
    chi2 : what it leaves
    explains : how much it takes away, 0 to 1
    """

    candidate: Candidate | Switched
    value: float
    chi2: float
    explains: float

    @property
    def change(self) -> float:
        """What is there less what the file says; of an open input, what is there."""
        if isinstance(self.candidate, Switched):
            return self.candidate.change
        written = self.candidate.written
        return self.value - written if np.isfinite(written) else self.value

    @property
    def lateness(self) -> float:
        """How far behind others it is to be named."""
        c = self.candidate
        if isinstance(c, Switched):
            return lateness(ON, "", owned_by=c.name, written=0.0, value=0.0)
        return lateness(c.key, c.spec.kind, owned_by=c.name, written=c.written, value=self.value)


def fits(
    plan: Prediction, layout: Layout, weighed: Weighed, progress: Progress | None = None
) -> list[Fit]:
    """Return what explains the difference and cannot be told from what does so best.

    Parameters
    ----------
    plan : as written
    layout : where it is compared
    weighed : the difference
    progress : told how many more candidates were tried

    Returns
    -------
    in the order of what people get wrong; empty where nothing explains anything, and where what
    is not known of all figures together explains as much
    """
    found = sorted(_all_fits(plan, layout, weighed, progress), key=lambda fit: fit.chi2)
    if not found:
        return []
    best = found[0].chi2
    # Where even the best does not fit, what is not known is larger than was thought.
    scale = max(1.0, best / layout.size)
    if weighed.chi2 <= best + _TOLD_APART * scale:
        return []
    tied = [fit for fit in found if fit.chi2 <= best + _TOLD_APART * scale]
    most = max(fit.explains for fit in tied)
    tied = [fit for fit in tied if fit.explains >= _BESIDE * most]
    return sorted(tied, key=lambda fit: fit.lateness)


def _all_fits(
    plan: Prediction, layout: Layout, weighed: Weighed, progress: Progress | None
) -> Iterator[Fit]:
    written = layout.loss(plan)[0]
    for candidate in candidates(plan.board, layout.states):
        fit = _fit(candidate, plan, layout, weighed, written)
        if progress is not None:
            progress(1)
        if fit is not None:
            yield fit
    for switch in switched(plan.board, layout.states):
        change = layout.loss(plan, built=switch.built)[0] - written
        left = float(np.sum(weighed.left(change) ** 2))
        if left < weighed.chi2 and _is_something(change):
            value = float(switch.change > 0)
            yield Fit(switch, value, left, weighed.explained(change))
        if progress is not None:
            progress(1)


def _is_something(change: FloatArray) -> bool:
    return bool(np.isfinite(change).all() and np.abs(change).max() > _NOTHING_DB)


def _fit(
    candidate: Candidate, plan: Prediction, layout: Layout, weighed: Weighed, written: FloatArray
) -> Fit | None:
    """Return a candidate at the value that explains most, None where none explains anything."""

    def change(values: FloatArray) -> FloatArray:
        board = candidate.boards(plan.board, values)
        changed = Prediction(board, plan.means, beside=plan)
        return layout.loss(changed, values.size) - written

    values = candidate.values
    chi2, low, high, _ = _between_values(values, weighed.left(change(values)))
    if chi2 > _HARDLY**2 * weighed.chi2:
        return None
    values = low + (high - low) * _FINER
    *_, best = _between_values(values, weighed.left(change(values)))
    found = change(np.array([best]))
    if not _is_something(found):
        return None
    return Fit(
        candidate, best, float(np.sum(weighed.left(found) ** 2)), weighed.explained(found[0])
    )


def _between_values(values: FloatArray, left: FloatArray) -> tuple[float, float, float, float]:
    """Return the least χ² on straight lines from value to value, the values around it, and its own.

    Between two values near each other what is left is nearly a straight line, on which the place
    with the least is known.
    """
    finite = np.isfinite(values)
    values, left = values[finite], left[finite]
    step = np.diff(left, axis=0)
    length = np.sum(step**2, axis=1)
    t = -np.sum(left[:-1] * step, axis=1) / np.where(length > 0, length, 1.0)
    nearest = left[:-1] + np.clip(t, 0.0, 1.0)[:, None] * step
    chi2 = np.sum(nearest**2, axis=1)
    at = int(np.argmin(chi2))
    inner = 0.0 < t[at] < 1.0
    first = at if inner else max(0, at - 1)
    last = at + 1 if inner else min(values.size - 1, at + 2)
    best = values[at] + np.clip(t[at], 0.0, 1.0) * (values[at + 1] - values[at])
    return float(chi2[at]), float(values[first]), float(values[last]), float(best)


def suspects(tied: list[Fit], *, driven_by_resistor: bool = False) -> tuple[Suspect, ...]:
    """Return what cannot be told apart as suspects, one for each kind of figure, likeliest first.

    Parameters
    ----------
    tied : in the order of what people get wrong
    driven_by_resistor : whether that is what stands where the instrument was
    """
    # A cable's capacitance is per metre, which that of a coil is not.
    by_key: dict[tuple[str, str], list[Fit]] = {}
    for fit in tied:
        by_key.setdefault((fit.candidate.key, fit.candidate.unit), []).append(fit)
    called = {INSTRUMENT: RESISTOR} if driven_by_resistor else {}
    return tuple(_suspect(group, called) for group in by_key.values())


def _suspect(group: list[Fit], called: Mapping[str, str]) -> Suspect:
    first = group[0]
    names = dict.fromkeys(called.get(fit.candidate.name, fit.candidate.name) for fit in group)
    key, unit = first.candidate.key, first.candidate.unit
    return Suspect(tuple(names), key, first.change, unit, first.explains)
