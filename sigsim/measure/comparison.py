"""A built board beside its plan: what was measured, what was predicted, and what may be wrong."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, TypeAlias

import numpy as np

from sigsim.decide.silence import silence
from sigsim.errors import SigsimError, nearest, quote, shown_path
from sigsim.measure.bands import ASSUMED_DB, EDGE, Recorded, missing, recorded, thinned
from sigsim.measure.forgotten import forgotten
from sigsim.measure.next_state import record_next
from sigsim.measure.predicted import WITHOUT, Layout, Prediction, Without, as_measured
from sigsim.measure.suspects import Fit, Weighed, fits, suspects
from sigsim.measure.varying import Varying, treble_losses, varying
from sigsim.measure.verdict import BandLoss, Between, StateVerdict, Verified
from sigsim.metrics import LEVEL_HZ, decibels, sounds
from sigsim.states.varied import varied
from sigsim.units import render

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import State
    from sigsim.measure.known import Across
    from sigsim.measure.response import Ratio
    from sigsim.physics.arrays import FloatArray

    Progress: TypeAlias = Callable[[int], None]

_SHARES: Final = (2.5, 97.5)
# A suspect that takes away less of the difference than this is not the whole story.
_EXPLAINED: Final = 0.7
_SWAPPED: Final = (
    "what was measured is about the plan with its sign turned round: swap --through and --without"
)
_LOUDER: Final = "hum or something else was louder there, or the sweep has nothing"
_SILENT: Final = {
    "loop out": "the loop {name} is out",
    "pickups cancel": "its pickups cancel",
    "knob at 0": "{name} is at 0",
    "unknown": "the plan lets nothing through",
}


@dataclass(frozen=True, eq=False)
class Compared:
    """A recording of a state, over the recording without the board.

    Attributes
    ----------
    state : which things are on
    ratio : through over without
    """

    state: State
    ratio: Ratio


def verify(
    board: Board,
    compared: Sequence[Compared],
    *,
    driven_by: float | None = None,
    interface: Across | None = None,
    without_means: str | None = None,
    limit: float = 1.0,
    progress: Progress | None = None,
) -> Verified:
    """Compare recordings of a built board with its plan.

    Parameters
    ----------
    board : the plan, listened at one of its ends
    compared : one for each state, at least one
    driven_by : resistance in place of the instrument [Ω], None for the instrument
    interface : what reads both sides, None for the destination of the plan
    without_means : what the recording without the board went through: the lead alone ("direct"),
        nothing ("bare") or the same stages without wiring ("ideal"); without, "direct" for the
        instrument and "bare" for a resistor
    limit : of the largest difference of a third octave [dB]
    progress : told how many more figures were tried, where something differs

    Raises
    ------
    SigsimError : nothing comes out in a state, a recording has nothing from 100 Hz to 10 kHz,
        there is none at all, or no such reference
    """
    means = _means(without_means, driven_by)
    if not compared:
        raise SigsimError(
            "there is no recording to compare", where=board.file, accepted="one at least"
        )
    plan = Prediction(as_measured(board, driven_by, interface), means)
    records = [recorded(one.ratio) for one in compared]
    for one, record in zip(compared, records, strict=True):
        _check(plan, one, record)
    beside = _Beside(plan, [one.state for one in compared], records)
    states = tuple(beside.verdicts())
    differ = any(beyond(band, 0.0) for state in states for band in state.bands)
    tied = beside.explanations(progress) if differ else []
    to_record = record_next(plan, beside.layout.states, tied)
    up_to, within = agreement(states, limit)
    bands = [band for state in states for band in state.bands]
    found = Verified(
        board=board,
        driven_by=driven_by,
        without_means=means,
        states=states,
        largest_difference=max((abs(band.difference) for band in bands), default=None),
        limit=limit,
        within_limit=not any(beyond(band, limit) for band in bands),
        agrees_to=up_to,
        suspects=suspects(tied, driven_by_resistor=driven_by is not None),
        record_next=to_record,
        notes=tuple(_left_out(compared, records)),
        agrees_within=within,
    )
    if found.is_swapped:
        return replace(found, suspects=(), record_next=None, notes=(_SWAPPED, *found.notes))
    notes = [*_notes(board, compared, tied if differ else None), *found.notes]
    if differ:
        left = 1 - max((fit.explains for fit in tied), default=0.0)
        said = forgotten(board, driven_by, interface, means, beside.layout, beside.measured, left)
        notes = [said, *notes] if said else notes
    return replace(found, notes=tuple(notes))


def _means(given: str | None, driven_by: float | None) -> Without:
    if given is None:
        return "direct" if driven_by is None else "bare"
    found = next((word for word in WITHOUT if word == given), None)
    if found is None:
        raise SigsimError(
            "this is nothing that the recording without the board can have gone through",
            where="--without-means",
            found=quote(given),
            accepted=", ".join(WITHOUT),
            nearest=nearest(given, WITHOUT),
        )
    return found


def _check(plan: Prediction, one: Compared, record: Recorded) -> None:
    """See that there is something to compare in a state.

    Raises
    ------
    SigsimError : there is not
    """
    name = one.state.title
    if not record.bands:
        raise SigsimError(
            "this recording holds nothing between 100 Hz and 10 kHz to compare",
            where=shown_path(one.ratio.name),
            found="silence" if not record.frequency.size else "other frequencies",
            accepted="a recording of the sweep through the board",
        )
    f = np.array([LEVEL_HZ])
    on = frozenset(one.state.on)
    if not sounds(decibels(plan.through(on, f)))[..., 0]:
        why = silence(plan.board, on)
        raise SigsimError(
            f"with {quote(name)} nothing comes out of the plan, so nothing can be compared",
            where=plan.board.file,
            found=_SILENT[why.cause].format(name=quote(why.name)),
            accepted="a combination that sounds",
        )
    if not sounds(decibels(plan.without(on, f)))[..., 0]:
        raise SigsimError(
            "without the board nothing would come through either, so nothing can be compared",
            where=plan.board.file,
            accepted="knobs of the instrument that let it through",
        )


class _Beside:
    """Recordings and a plan at the same points.

    Parameters
    ----------
    plan : as written
    states : of the recordings
    records : one for each
    """

    def __init__(
        self, plan: Prediction, states: Sequence[State], records: Sequence[Recorded]
    ) -> None:
        self.plan, self.states, self.records = plan, states, records
        self._points = [thinned(record) for record in records]
        frequencies = [r.frequency[at] for r, at in zip(records, self._points, strict=True)]
        self.layout = Layout([frozenset(state.on) for state in states], frequencies)
        self.varying: Varying = varying(plan, self.layout)

    @property
    def measured(self) -> FloatArray:
        """The losses that were measured at the points of the layout [dB]."""
        pairs = zip(self.records, self._points, strict=True)
        return np.concatenate([record.loss[at] for record, at in pairs])

    def verdicts(self) -> Iterator[StateVerdict]:
        """Yield each state, measured beside predicted."""
        treble = treble_losses(self.plan, self.layout.states)[0]
        for number, (state, record) in enumerate(zip(self.states, self.records, strict=True)):
            predicted = _interval(float(treble[number]), self.varying.treble[:, number])
            bands = tuple(self._bands(number, record))
            yield StateVerdict(state, bands, record.treble_loss, predicted)

    def _bands(self, number: int, record: Recorded) -> Iterator[BandLoss]:
        # Of the plan as written every point counts, of the draws a few tell how they differ.
        written = self.plan.loss(self.layout.states[number], record.frequency)
        draws, points = self.varying.loss[:, self.layout.parts[number]], self._points[number]
        for band in record.bands:
            inside = np.isin(points, band.points)
            drawn = draws[:, inside].mean(axis=1)
            predicted = _interval(float(band.mean(written)), drawn)
            yield BandLoss(band.centre, record.between(band), predicted)

    def explanations(self, progress: Progress | None) -> list[Fit]:
        """Return what, changed alone, explains the difference and cannot be told apart."""
        written = self.layout.loss(self.plan)[0]
        pairs = list(zip(self.records, self._points, strict=True))
        sigma = np.concatenate([record.sigma[at] for record, at in pairs])
        common = np.zeros((len(pairs), self.layout.size))
        for row, (part, (record, at)) in enumerate(zip(self.layout.parts, pairs, strict=True)):
            common[row, part] = record.common[at]
        weighed = Weighed(self.measured - written, sigma, common, self.varying.loss)
        return fits(self.plan, self.layout, weighed, progress)


def _interval(value: float, drawn: FloatArray) -> Between:
    """Return a predicted value with the interval of the draws' differences from it."""
    if not drawn.size:
        return Between(value, value, value)
    low, high = np.percentile(drawn, _SHARES).tolist()
    return Between(value, value + min(low, 0.0), value + max(high, 0.0))


def beyond(band: BandLoss, limit: float) -> bool:
    """Whether a band is further off than a limit [dB] by more than both uncertainties."""
    low = band.measured.low - band.predicted.high
    high = band.measured.high - band.predicted.low
    return low > limit or high < -limit


def agreement(states: Sequence[StateVerdict], limit: float) -> tuple[float | None, float | None]:
    """Return up to where all bands are within a limit [Hz], and the largest difference there."""
    bands = sorted((band for state in states for band in state.bands), key=lambda b: b.frequency)
    first = next((band.frequency for band in bands if beyond(band, limit)), np.inf)
    agreeing = [band for band in bands if band.frequency < first]
    if not agreeing:
        return None, None
    return agreeing[-1].frequency * EDGE, max(abs(band.difference) for band in agreeing)


def _left_out(compared: Sequence[Compared], records: Sequence[Recorded]) -> Iterator[str]:
    """Yield which third octaves are not compared, and why."""
    for one, record in zip(compared, records, strict=True):
        if gone := missing(record):
            why = "the table has next to nothing there" if one.ratio.sigma is None else _LOUDER
            listed = ", ".join(render(centre, "Hz") for centre in gone)
            yield f"left out of {shown_path(one.ratio.name)}: {listed} ({why})"


def _notes(board: Board, compared: Sequence[Compared], tied: Sequence[Fit] | None) -> Iterator[str]:
    for one in compared:
        if one.ratio.sigma is None:
            yield (
                f"{shown_path(one.ratio.name)} says nothing of its own uncertainty: "
                f"± {ASSUMED_DB:g} dB is assumed"
            )
    exact = not varied(board)
    if exact:
        yield (
            "no figure of this board carries a tolerance, so the plan is taken as exact: "
            'write "6 m ± 2 %" where you know one'
        )
    if tied is not None and not tied:
        yield "no single figure explains the difference" + (
            "" if exact else "; the tolerances of all of them together may"
        )
    elif tied and (most := max(fit.explains for fit in tied)) < _EXPLAINED:
        yield (
            f"no single figure explains more than {100 * most:.0f} % of the difference: "
            "more than one may be wrong"
        )
