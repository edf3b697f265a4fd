"""Every combination of what is on and off: how the losses spread, which are worst, what matters."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, TypeAlias

import numpy as np

from sigsim import metrics
from sigsim.decide.limits import LOADS, MOST_WALKED, RUNS, listed_runs, most, most_loads
from sigsim.decide.loss.report import StateReport, assess
from sigsim.decide.states.corners import CornerTally
from sigsim.decide.states.levels import levels
from sigsim.decide.states.near import ends, looked_at
from sigsim.decide.states.question import StatesQuestion
from sigsim.errors import SigsimError
from sigsim.states.distinct import distinct_states
from sigsim.states.every import MOST_SWITCHES, EveryState, StateBlock
from sigsim.states.measure import treble
from sigsim.states.response import Solver
from sigsim.states.sampled import SAMPLE, Sample, draw_states
from sigsim.states.search import ranked
from sigsim.states.shape import GRID
from sigsim.states.sums import Sums

if TYPE_CHECKING:
    from sigsim.board.state import On
    from sigsim.decide.folding import Fold
    from sigsim.physics.arrays import FloatArray

Progress: TypeAlias = Callable[[int], None]
BEST_SHOWN: Final = 3
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
    """

    best: float
    median: float
    most: float
    worst: float
    words: dict[str, int]
    silent: int
    below: int | None
    levels: tuple[float, float]


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
    summary : of the treble loss
    effects : of every switch, the largest first
    top : the worst states, worst first
    best : the best, best first
    proven : whether the ranked states are the result of a complete search
    top_folds, best_folds : what each of `top` and `best` stands for
    """

    question: StatesQuestion
    total: int
    sampled: int | None
    summary: Summary
    effects: tuple[Effect, ...]
    top: tuple[StateReport, ...]
    best: tuple[StateReport, ...]
    proven: bool
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
    loads = most_loads(board, fixed)
    if loads > most("states", LOADS):
        raise SigsimError(
            f"this board has too many {LOADS} for `states`",
            where=board.file,
            found=f"{loads:,}",
            accepted=f"at most {most('states', LOADS):,}; {_HOLD}",
        )
    total = distinct_states(board, fixed)
    sample = None
    if question.listed():
        sums = _all_sums(question, progress)
    else:
        sample = _sample(question)
        sums = _sampled_sums(question, sample)
    counts = tuple(looked_at(shown) if fold else shown for shown in (top, BEST_SHOWN))
    corners = _corners(question, sample, counts, progress)
    solver = Solver(board)
    folds, proven = ends(question, solver, (top, BEST_SHOWN), corners, fold=fold)
    top_states, best = (
        tuple(assess(solver, board.state(f.first), question.basis) for f in rows) for rows in folds
    )
    sampled = None if sample is None else len(sample.on)
    below = None if question.below is None or corners is None else corners.below
    return StatesReport(
        question,
        total,
        sampled,
        _summary(sums, sampled or total, below, question, exact=sampled is not None),
        _effects(question, sums),
        top_states,
        best,
        proven,
        *folds,
    )


def listing(question: StatesQuestion) -> tuple[EveryState, Iterator[StateBlock]]:
    """Return every state with all its numbers, in blocks.

    Raises
    ------
    SigsimError : too many things vary
    """
    if (runs := listed_runs(question.board, question.fixed)) > MOST_WALKED:
        raise SigsimError(
            f"there are too many {RUNS} to list every state",
            found=f"{runs:,}",
            accepted=f"at most {MOST_WALKED:,}; {_HOLD}",
        )
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


def _all_sums(question: StatesQuestion, progress: Progress | None) -> Sums:
    measure = treble(question.basis)
    every = EveryState(question.board, [measure], question.fixed)

    def tables() -> Iterator[tuple[FloatArray, Any, FloatArray, Any]]:
        for a, b in every.pairs():
            for left, right in every.measures.told(a.measures, b.measures):
                yield a.measures[left, 0], a.on[left], b.measures[right, 0], b.on[right]
            if progress is not None:
                progress(len(a.on) * len(b.on))

    return Sums.over(tables())


def passes(question: StatesQuestion) -> int:
    """Return how many times a report goes over the states: once, and again for corners."""
    return 2 if _needs_corners(question) and question.listed() else 1


def _needs_corners(question: StatesQuestion) -> bool:
    return question.by == "corner" or question.below is not None


def _sample(question: StatesQuestion) -> Sample:
    """Draw states, with their curves only where corners are asked for."""
    return draw_states(
        question.board,
        question.measures(),
        GRID if _needs_corners(question) else GRID[:0],
        count=SAMPLE,
        seed=question.seed,
        fixed=question.fixed,
    )


def _sampled_sums(question: StatesQuestion, sample: Sample) -> Sums:
    """Return the drawn states as sums with nothing on their right."""
    bits = {name: 1 << i for i, name in enumerate(question.board.switches())}
    numbers = [sum(b for name, b in bits.items() if name in state) for state in sample.on]
    on = np.array(numbers, dtype=object)
    return Sums.over([(sample.measures[-1], on, np.zeros(1), np.zeros(1, dtype=object))])


def _corners(
    question: StatesQuestion,
    sample: Sample | None,
    counts: Sequence[int],
    progress: Progress | None,
) -> CornerTally | None:
    """Return the corners of all states, where the question needs them."""
    if not _needs_corners(question):
        return None
    tally = CornerTally(question.below or 0.0, *counts)
    if sample is not None:
        tally.add_sample(sample)
        return tally
    every, blocks = listing(question)
    for block in blocks:
        tally.add(block, every)
        if progress is not None:
            progress(block.on.size)
    return tally


def _summary(
    sums: Sums, counted: int, below: int | None, question: StatesQuestion, *, exact: bool
) -> Summary:
    """Sum up; the ends are exact even where the rest comes from a sample."""
    words, done = {}, 0
    for limit, word in metrics.word_limits():
        up_to = sums.below(limit) if np.isfinite(limit) else sums.size
        words[word], done = up_to - done, up_to
    worst, best = sums.largest(), sums.smallest()
    if exact:
        measure = treble(question.basis)
        worst, best = (
            ranked(question.board, measure, largest=largest, fixed=question.fixed)[0].value
            for largest in (True, False)
        )
    median, most, silent = sums.quantile(0.5), sums.quantile(0.95), counted - sums.size
    return Summary(best, median, most, worst, words, silent, below, levels(question))


def _effects(question: StatesQuestion, sums: Sums) -> tuple[Effect, ...]:
    """Return what every switch that varies does, the largest change of the median first."""
    switches = question.board.switches()
    effects = []
    for name in question.varying():
        off, on = (sums.where(1 << switches.index(name), state) for state in (False, True))
        if on.size and off.size:
            medians = off.quantile(0.5), on.quantile(0.5)
            effects.append(Effect(name, *medians, off.largest(), on.largest()))
    return tuple(sorted(effects, key=lambda e: -abs(e.median_change)))
