"""What a plot of all states shows: the band of all curves and the distribution of treble loss."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.decide.states.question import StatesQuestion
from sigsim.metrics import treble_loss
from sigsim.states.distinct import distinct_states
from sigsim.states.every import EveryState
from sigsim.states.extremes import extremes
from sigsim.states.measure import Measure, treble
from sigsim.states.response import Response, Solver
from sigsim.states.shape import GRID
from sigsim.states.summed import SAMPLE, drawn_states

if TYPE_CHECKING:
    from sigsim.board.state import State
    from sigsim.physics.arrays import FloatArray

_SHARES: Final = (5, 95)
# Up to here all states are drawn, above a sample.
_MOST_LISTED: Final = 4096


@dataclass(frozen=True)
class NamedState:
    """A state by name, what is held on or off being so.

    Attributes
    ----------
    state : every stage off, or a scene
    gain : [dB], shape (frequency,)
    loss : the treble loss [dB]
    """

    state: State
    gain: FloatArray
    loss: float


@dataclass(frozen=True)
class StatesBand:
    """The curves of all states and of some by name.

    Attributes
    ----------
    frequency : [Hz]
    least, largest : of all states at each frequency, exactly [dB]
    low, high : what 5 % and 95 % of the drawn states stay under [dB]; all are drawn if few
    named : every stage off and each scene
    losses : treble losses of the drawn states [dB]; not a number for silent ones
    drawn, total : how many states were drawn, and how many there are
    """

    frequency: FloatArray
    least: FloatArray
    largest: FloatArray
    low: FloatArray
    high: FloatArray
    named: tuple[NamedState, ...]
    losses: FloatArray
    drawn: int
    total: int


def states_band(question: StatesQuestion) -> StatesBand:
    """Return what a plot of all states shows; states held on or off are kept so in all of it."""
    board, fixed = question.board, question.fixed or {}
    measures = [treble(question.basis)]
    least, largest = extremes(board, GRID, fixed)
    total = distinct_states(board, fixed)
    gain, losses = _all(question, measures) if total <= _MOST_LISTED else _drawn(question, measures)
    heard = ~np.isnan(losses)
    with np.errstate(all="ignore"):
        low, high = np.percentile(gain[heard] if heard.any() else gain, _SHARES, axis=0)
    solver, named = Solver(board), []
    for state in board.named_states():
        on = set(state.on).union(fixed) - {n for n, held in fixed.items() if not held}
        r = Response(solver, on, GRID, question.basis.reference)
        named.append(NamedState(state, r.gain_db, treble_loss(r, question.basis.band)))
    return StatesBand(
        frequency=GRID,
        least=least,
        largest=largest,
        low=low,
        high=high,
        named=tuple(named),
        losses=losses,
        drawn=len(losses),
        total=total,
    )


def _all(question: StatesQuestion, measures: list[Measure]) -> tuple[FloatArray, FloatArray]:
    """Return the gain and the treble loss of every state [dB]."""
    gain, found = EveryState(question.board, measures, question.fixed).curves()
    return gain, found[0]


def _drawn(question: StatesQuestion, measures: list[Measure]) -> tuple[FloatArray, FloatArray]:
    """Return the gain and the treble loss of states drawn at random [dB]."""
    sample = drawn_states(
        question.board, measures, GRID, count=SAMPLE, seed=question.seed, fixed=question.fixed
    )
    return sample.gain, sample.measures[0]
