"""Every combination of what is on and off: how the losses spread, which are worst, what matters."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, TypeAlias

import numpy as np

from sigsim import metrics
from sigsim.decide.limits import LOADS, MOST_LOADS, most, most_loads
from sigsim.decide.loss.report import StateReport, assess
from sigsim.decide.states.corners import CornerTally
from sigsim.decide.states.levels import levels
from sigsim.decide.states.near import ends, looked_at
from sigsim.decide.states.question import StatesQuestion
from sigsim.errors import SigsimError
from sigsim.states.blocks import StateBlock
from sigsim.states.by_switch import worst_by_switch
from sigsim.states.counted import counted
from sigsim.states.distinct import distinct_states
from sigsim.states.every import MOST_SWITCHES, EveryState
from sigsim.states.response import Solver
from sigsim.states.search import Search
from sigsim.states.shape import GRID
from sigsim.states.summed import SAMPLE, Sample, drawn_states, summed

if TYPE_CHECKING:
    from sigsim.board.state import On
    from sigsim.decide.folding import Fold
    from sigsim.states.losses import Losses
    from sigsim.states.measure import Measure

Progress: TypeAlias = Callable[[int], None]
BEST_SHOWN: Final = 3
# The median, and what nearly all states stay within.
_SHARES: Final = (0.5, 0.95)
MOST_VARYING: Final = most("states", "switches")
_HOLD: Final = "hold some with --scene-like A,B or --off C"


@dataclass(frozen=True)
class Summary:
    """How the treble losses of the states spread.

    Attributes
    ----------
    best, median, most, worst : [dB]; `most` is what 95 % of the states stay within
    words : how many states by the word for their loss (of the sample, if one was drawn)
    silent : how many give no sound at all
    below : how many have their corner under the frequency asked for, None if none was
    levels : the lowest and the highest level at 100 Hz [dB]
    error : by how much median, most and the limits of the words may be off [dB]
    """

    best: float
    median: float
    most: float
    worst: float
    words: dict[str, int]
    silent: int
    below: int | None
    levels: tuple[float, float]
    error: float


@dataclass(frozen=True)
class Effect:
    """What one switch does to the treble loss over all states.

    Attributes
    ----------
    name : of the stage or loop
    median_off, median_on, worst_off, worst_on : [dB]
    """

    name: str
    median_off: float
    median_on: float
    worst_off: float
    worst_on: float

    @property
    def median_change(self) -> float:
        """How the median changes when it is on [dB]."""
        return self.median_on - self.median_off

    @property
    def worst_change(self) -> float:
        """How the worst changes when it is on [dB]."""
        return self.worst_on - self.worst_off


@dataclass(frozen=True)
class StatesReport:
    """What `states` answers.

    Attributes
    ----------
    question : what was asked
    total : how many different states there are
    sampled : how many were drawn for the summary, None if it counts all
    corners_sampled : how many were drawn for corners, None if there are none or they are of all
    summary : of the treble loss
    effects : of every switch, the largest first
    top : the worst states, worst first
    best : the best, best first
    proven : whether the ranked states are the result of a complete search
    switches_proven : whether the worst of each switch is
    found, bound : the worst by the measure that ranks, and what no state exceeds, where that is
        not proven [dB]
    top_folds, best_folds : what each of `top` and `best` stands for
    """

    question: StatesQuestion
    total: int
    sampled: int | None
    corners_sampled: int | None
    summary: Summary
    effects: tuple[Effect, ...]
    top: tuple[StateReport, ...]
    best: tuple[StateReport, ...]
    proven: bool
    switches_proven: bool
    found: float
    bound: float
    top_folds: tuple[Fold[On], ...]
    best_folds: tuple[Fold[On], ...]

    @property
    def clear(self) -> float:
        """Which part of the states counted loses more than slightly [-]."""
        words = self.summary.words
        return (words["heavy"] + words["clear"]) / max(self.sampled or self.total, 1)

    def off(self, state: StateReport) -> tuple[str, ...]:
        """Return the names of what is off in a state."""
        return tuple(n for n in self.question.board.switches() if n not in state.state.on)


def states_report(
    question: StatesQuestion,
    top: int = 10,
    progress: Progress | None = None,
    *,
    fold: bool = False,
) -> StatesReport:
    """Answer a question about all states.

    Parameters
    ----------
    question : what is asked
    top : how many of the worst states to return
    progress : told how many states are done, of `passes` times as many as there are
    fold : whether states that sound nearly alike are one of them

    Raises
    ------
    SigsimError : more than `MOST_VARYING` things vary
    """
    board, fixed = question.board, question.fixed
    if len(question.varying()) > MOST_VARYING:
        raise _too_many("too many things vary", question, MOST_VARYING)
    if (found_loads := most_loads(board, fixed)) > MOST_LOADS:
        raise SigsimError(
            f"this board has too many {LOADS} for `states`",
            where=board.file,
            found=f"{found_loads:,}",
            accepted=f"at most {MOST_LOADS:,}; {_HOLD}",
        )
    deadline = time.monotonic() + question.seconds
    total = distinct_states(board, fixed)
    found = _losses(question, progress)
    corners, sampled, drawn = None, found.states if found.drawn else None, None
    if _needs_corners(question):
        counts = tuple(looked_at(shown) if fold else shown for shown in (top, BEST_SHOWN))
        corners = _corners(question, counts, progress)
        drawn = None if question.listed() else SAMPLE
    solver, search = Solver(board), Search(board, question.searched(), fixed)
    rows = ends(question, search, solver, (top, BEST_SHOWN), corners, deadline, fold=fold)
    top_states, best = (
        tuple(assess(solver, board.state(f.first), question.basis) for f in folds)
        for folds in (rows.worst, rows.best)
    )
    effects, told = _effects(question, search, found.medians, deadline)
    below = None if question.below is None or corners is None else corners.below
    return StatesReport(
        question,
        total,
        sampled,
        drawn,
        _summary(found, below, question, search, deadline),
        effects,
        top_states,
        best,
        rows.proven,
        told,
        rows.found,
        rows.bound,
        rows.worst,
        rows.best,
    )


def listing(question: StatesQuestion) -> tuple[EveryState, Iterator[StateBlock]]:
    """Return every state with all its numbers, in blocks.

    Raises
    ------
    SigsimError : too many things vary
    """
    if not question.listed():
        raise _too_many("too many things vary to list every combination", question, MOST_SWITCHES)
    every = EveryState(question.board, question.measures(), question.fixed)
    return every, every.blocks()


def _too_many(what: str, question: StatesQuestion, most: int) -> SigsimError:
    return SigsimError(
        what,
        found=f"{len(question.varying())} switches",
        accepted=f"at most {most}; {_HOLD}",
    )


def _losses(question: StatesQuestion, progress: Progress | None) -> Losses:
    """Return how the treble loss spreads: counted, or summed up where there is too much."""
    measure = _treble(question)
    limits = tuple(limit for limit, _ in metrics.word_limits() if np.isfinite(limit))
    if question.listed():
        return counted(question.board, measure, question.fixed, limits, _SHARES, progress)
    return summed(question.board, measure, question.fixed, limits, _SHARES, seed=question.seed)


def _treble(question: StatesQuestion) -> Measure:
    return question.measures()[-1]


def passes(question: StatesQuestion) -> int:
    """Return how many times a report goes over the states: once, and again for corners."""
    return 2 if _needs_corners(question) and question.listed() else 1


def _needs_corners(question: StatesQuestion) -> bool:
    return question.by == "corner" or question.below is not None


def _corners(
    question: StatesQuestion, counts: Sequence[int], progress: Progress | None
) -> CornerTally:
    """Return the corners of all states, or of some drawn at random."""
    tally = CornerTally(question.below or 0.0, *counts)
    if not question.listed():
        tally.add_sample(_sample(question))
        return tally
    every, blocks = listing(question)
    for block in blocks:
        tally.add(block, every)
        if progress is not None:
            progress(block.on.size)
    return tally


def _sample(question: StatesQuestion) -> Sample:
    """Draw states, with their curves."""
    return drawn_states(
        question.board,
        question.measures(),
        GRID,
        count=SAMPLE,
        seed=question.seed,
        fixed=question.fixed,
    )


def _summary(
    found: Losses, below: int | None, question: StatesQuestion, search: Search, deadline: float
) -> Summary:
    words, done = {}, 0
    heard = found.states - found.silent
    for (_, word), up_to in zip(metrics.word_limits(), (*found.below, heard), strict=True):
        words[word], done = up_to - done, up_to
    worst, best = (
        search.ranked(_treble(question), largest=largest, seconds=deadline - time.monotonic())[0]
        for largest in (True, False)
    )
    median, most_of_them = found.quantiles
    return Summary(
        best.value,
        median,
        most_of_them,
        worst.value,
        words,
        found.silent,
        below,
        levels(search, question.measures()[0]),
        found.error,
    )


def _effects(
    question: StatesQuestion,
    search: Search,
    medians: Mapping[str, tuple[float, float]],
    deadline: float,
) -> tuple[tuple[Effect, ...], bool]:
    """Return what every switch that varies does, the largest change of the median first.

    And whether the worst of all of them are proven.
    """
    left = max(0.0, deadline - time.monotonic())
    worst, proven = worst_by_switch(search, _treble(question), tuple(medians), left)
    effects = [Effect(name, *ends, *worst[name]) for name, ends in medians.items()]
    return tuple(sorted(effects, key=lambda e: -abs(e.median_change))), proven
