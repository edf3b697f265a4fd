"""How sure: what the tolerances of a board make of its losses."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final, TypeAlias

import numpy as np

from sigsim import metrics
from sigsim.decide.limits import refuse_beyond
from sigsim.decide.spread.influence import Bound, Influence, bounds, influences, rank_correlations
from sigsim.errors import SigsimError
from sigsim.metrics import USUAL_BASIS, Basis
from sigsim.states.drawn import METRICS, Drawn, DrawSolver
from sigsim.states.response import Response, Solver
from sigsim.states.search import worst_state
from sigsim.states.shape import GRID
from sigsim.states.varied import Exact, Varied, exact, places, varied

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import On, State
    from sigsim.physics.arrays import FloatArray

MOST_DRAWS: Final = 200_000
SHARES: Final = (5.0, 50.0, 95.0)
# What a board without any tolerance is offered: common practice, no source.
USUAL: Final = "resistance=10,capacitance=10,inductance=10,length=2"

# Curves and places are kept of the first draws only: enough for a band and for correlations, and
# no more memory however many draws there are.
_KEPT_CURVES: Final = 4000
_KEPT_PLACES: Final = 20_000
_KEPT_NUMBERS: Final = 4_000_000

Progress: TypeAlias = Callable[[int], None]


@dataclass(frozen=True, kw_only=True)
class SpreadQuestion:
    """What is asked about the tolerances of a board.

    Attributes
    ----------
    board : the board
    basis : what a loss is measured against and over
    draws : how many boards are drawn
    seed : of the random numbers
    normal : whether they are normal within the tolerances instead of even
    defaults : tolerance by kind for the quantities that carry none [fraction]
    limit : of the treble loss, whose chance to be passed is counted [dB]
    corners : how many quantities to try in every combination of their ends, None for none
    curves : whether the band of the curves is wanted
    """

    board: Board
    basis: Basis = USUAL_BASIS
    draws: int = 2000
    seed: int = 1
    normal: bool = False
    defaults: Mapping[str, float] = field(default_factory=dict)
    limit: float = 3.0
    corners: int | None = None
    curves: bool = False


@dataclass(frozen=True)
class Quantiles:
    """How one metric spreads; not a number stands for none.

    Attributes
    ----------
    written : with every quantity as written
    low, middle, high : 5 %, 50 % and 95 % of the draws that have one stay under this
    none : part of the draws that have none [-]
    """

    written: float
    low: float
    middle: float
    high: float
    none: float


@dataclass(frozen=True)
class Curves:
    """The band of a state's curves.

    Attributes
    ----------
    frequency : [Hz]
    low, middle, high, written : gain [dB], shape (frequency,)
    """

    frequency: FloatArray
    low: FloatArray
    middle: FloatArray
    high: FloatArray
    written: FloatArray


@dataclass(frozen=True)
class StateSpread:
    """How one state spreads.

    Attributes
    ----------
    state : which things are on, and what that is called
    metrics : by name
    level_change : of the board as written, at 100 Hz against the reference [dB]
    over_limit : part of the draws whose treble loss is over the limit [-]
    influences : what matters most for the treble loss, the most important first
    bounds : by metric, None if not asked for
    curves : None if not asked for
    """

    state: State
    metrics: dict[str, Quantiles]
    level_change: float
    over_limit: float
    influences: tuple[Influence, ...]
    bounds: dict[str, Bound] | None
    curves: Curves | None

    @property
    def loss(self) -> Quantiles:
        """How the treble loss spreads."""
        return self.metrics["treble_loss"]


@dataclass(frozen=True)
class SpreadReport:
    """What `spread` answers.

    Attributes
    ----------
    question : what was asked
    quantities : what varies
    states : the states asked for
    worst : the state with the largest treble loss as written, None if not asked for
    exact : the figures of the file that carry no tolerance
    """

    question: SpreadQuestion
    quantities: tuple[Varied, ...]
    states: tuple[StateSpread, ...]
    worst: StateSpread | None
    exact: tuple[Exact, ...]

    @property
    def told(self) -> StateSpread:
        """The state to tell of first: the worst, or of those asked for the one that loses most."""
        if self.worst is not None:
            return self.worst
        return max(self.states, key=lambda s: np.nan_to_num(s.loss.middle, nan=-np.inf))


def spread_report(
    question: SpreadQuestion,
    states: Sequence[State],
    *,
    with_worst: bool = False,
    progress: Progress | None = None,
) -> SpreadReport:
    """Draw boards within the tolerances and measure some states of all of them.

    Parameters
    ----------
    question : what is asked
    states : of the board
    with_worst : whether to add the worst of all states of the board as written
    progress : told how many more draws are done

    Raises
    ------
    SigsimError : nothing varies
    """
    board = question.board
    refuse_beyond(board, "spread")
    quantities = varied(board, question.defaults)
    if not quantities:
        raise SigsimError(
            "no quantity of this board carries a tolerance, so there is nothing to spread",
            where=board.file,
            accepted=f'--tolerance {USUAL} (in %), or "250 kΩ ± 20 %" in the file',
        )
    wanted = list(states)
    if with_worst:
        wanted.append(board.state(worst_state(board, question.basis).on))
    different = list(dict.fromkeys(board.heard(state.on) for state in wanted))
    solver = DrawSolver(board, quantities, question.basis)
    pool = _Pool(question, solver, different)
    pool.fill(progress)
    made = tuple(pool.state(state, different.index(board.heard(state.on))) for state in wanted)
    worst = made[-1] if with_worst else None
    bare = exact(board, question.defaults)
    return SpreadReport(question, quantities, made[: len(states)], worst, bare)


class _Pool:
    """All draws in some states as they come in, and what they amount to."""

    def __init__(self, question: SpreadQuestion, solver: DrawSolver, states: Sequence[On]) -> None:
        self.question, self.solver, self.states = question, solver, states
        size = len(solver.quantities)
        self.kept = min(question.draws, _KEPT_PLACES, max(64, _KEPT_NUMBERS // size))
        self.places = np.empty((self.kept, size))
        self.values = {name: np.empty((len(states), question.draws)) for name in METRICS}
        rows = min(question.draws, _KEPT_CURVES) if question.curves else 0
        self.gain = np.empty((len(states), rows, GRID.size), dtype=np.float32)
        self._exact = Solver(solver.board)
        self._found: dict[int, StateSpread] = {}

    def fill(self, progress: Progress | None) -> None:
        """Draw and solve everything."""
        done = 0
        for u, drawn in self.solver.stream(self._chunks(), self.states):
            self._keep(done, u, drawn)
            done += len(u)
            if progress is not None:
                progress(len(u))

    def _chunks(self) -> Iterator[FloatArray]:
        generator = np.random.default_rng(self.question.seed)
        size, most = len(self.solver.quantities), self.solver.rows
        for start in range(0, self.question.draws, most):
            rows = min(most, self.question.draws - start)
            yield places(generator, rows, size, normal=self.question.normal)

    def _keep(self, start: int, u: FloatArray, drawn: list[Drawn]) -> None:
        self.places[start : start + len(u)] = u[: max(0, self.kept - start)]
        for index, state in enumerate(drawn):
            for name, values in state.metrics.items():
                self.values[name][index, start : start + len(u)] = values
            room = self.gain[index, start : start + len(u)]
            room[:] = state.gain[: len(room)]

    def state(self, state: State, index: int) -> StateSpread:
        """Return what the draws of a state amount to; it is one of the different ones."""
        if index not in self._found:
            self._found[index] = self._state(state, index)
        return replace(self._found[index], state=state)

    def _state(self, state: State, index: int) -> StateSpread:
        question, on = self.question, self.states[index]
        values = {name: rows[index] for name, rows in self.values.items()}
        response = Response(self._exact, on, GRID, question.basis.reference)
        written = _written(response, question.basis.band)
        first = {name: column[: self.kept] for name, column in values.items()}
        correlations = rank_correlations(self.places, first)
        loss = values["treble_loss"]
        return StateSpread(
            state=state,
            metrics={name: _quantiles(column, written[name]) for name, column in values.items()},
            level_change=-float(metrics.loss(response, np.array([metrics.LEVEL_HZ]))[0]),
            over_limit=float(np.count_nonzero(loss > question.limit) / loss.size),
            influences=influences(self.solver, on, correlations),
            bounds=(
                None
                if question.corners is None
                else bounds(self.solver, on, correlations, values, question.corners)
            ),
            curves=_curves(self.gain[index], response.gain_db) if question.curves else None,
        )


def _written(response: Response, band: tuple[float, float]) -> dict[str, float]:
    """Return the metrics of the board as written, exact; not a number for none."""
    peak, corner = metrics.resonance(response), metrics.corner(response)
    return {
        "treble_loss": metrics.treble_loss(response, band),
        "level": metrics.level(response),
        "corner": np.nan if corner is None else corner,
        "resonance": np.nan if peak is None else peak.frequency,
        "resonance_height": np.nan if peak is None else peak.height,
    }


def _quantiles(values: FloatArray, written: float) -> Quantiles:
    there = values[np.isfinite(values)]
    none = 1 - there.size / values.size
    if not there.size:
        return Quantiles(written, np.nan, np.nan, np.nan, none)
    low, middle, high = np.percentile(there, SHARES).tolist()
    return Quantiles(written, low, middle, high, none)


def _curves(gain: FloatArray, written: FloatArray) -> Curves:
    with np.errstate(all="ignore"):
        low, middle, high = np.percentile(gain, SHARES, axis=0)
    return Curves(GRID, low, middle, high, written)
