"""The worst and the best states, those that sound nearly alike as one where that is wanted."""

from __future__ import annotations

import math
import time
from dataclasses import replace
from typing import TYPE_CHECKING, Final, NamedTuple

from sigsim.decide.folding import FOLDED_DB, Fold, folded, unfolded
from sigsim.decide.loss.report import same_responses

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sigsim.board.state import On
    from sigsim.decide.states.corners import CornerTally
    from sigsim.decide.states.question import StatesQuestion
    from sigsim.metrics import Basis
    from sigsim.states.response import Solver
    from sigsim.states.search import Search

# So many times the rows that are shown are looked at, then so many states, but no more.
_TIMES: Final = 20
_FEW: Final = 200
_MOST: Final = 1000


class Found(NamedTuple):
    """States in the order of a measure.

    Attributes
    ----------
    on : the names of what is on, the first state first
    values : of the measure [dB]; empty where it has none, as the corner
    """

    on: tuple[On, ...]
    values: tuple[float, ...] = ()


def looked_at(shown: int) -> int:
    """Return how many states are ranked at first so that as many rows can say different things."""
    return max(shown, min(_TIMES * shown, _FEW))


class Ends(NamedTuple):
    """The two ends of all states in the order of a measure.

    Attributes
    ----------
    worst, best : the rows that are shown
    proven : whether every state was covered
    found, bound : the worst, and what no state exceeds, where it is not proven [dB]
    """

    worst: tuple[Fold[On], ...]
    best: tuple[Fold[On], ...]
    proven: bool
    found: float = math.nan
    bound: float = math.nan


def ends(
    question: StatesQuestion,
    search: Search,
    solver: Solver,
    shown: tuple[int, int],
    corners: CornerTally | None,
    deadline: float,
    *,
    fold: bool,
) -> Ends:
    """Return the worst and the best states.

    Parameters
    ----------
    question : what is asked
    search : over its measures
    solver : of the board
    shown : how many rows of the worst and of the best
    corners : of all states, where they rank
    deadline : until when to search [s of the monotonic clock]
    fold : whether states that sound nearly alike are one row
    """
    measure, large_is_bad = question.ranking, question.by != "level"
    if measure is None:
        assert corners is not None
        return _by_corner(question, solver, shown, corners, fold=fold)
    rows, proven, at_worst = [], True, (math.nan, math.nan)
    for worst, count in zip((True, False), shown, strict=True):
        for asked in _counts(count, fold=fold):
            ranked = search.ranked(
                measure,
                asked,
                largest=large_is_bad == worst,
                seconds=max(0.0, deadline - time.monotonic()),
            )
            found = Found(tuple(s.on for s in ranked), tuple(s.value for s in ranked))
            folds = _rows(solver, found, question.basis, asked, fold=fold)
            if len(folds) >= count or len(ranked) < asked:
                break
        exact = all(state.exact for state in ranked)
        if worst and not exact:
            at_worst = ranked[0].value, ranked[0].bound
        proven = proven and exact
        rows.append(tuple(folds[:count]))
    return Ends(rows[0], rows[1], proven, *at_worst)


def _by_corner(
    question: StatesQuestion,
    solver: Solver,
    shown: tuple[int, int],
    corners: CornerTally,
    *,
    fold: bool,
) -> Ends:
    rows = []
    for worst, count in zip((True, False), shown, strict=True):
        # Where every state is silent, every stage off stands for all.
        off = (frozenset(n for n, on in (question.fixed or {}).items() if on),)
        found = Found((corners.worst() if worst else corners.best()) or off)
        asked = looked_at(count) if fold else count
        rows.append(tuple(_rows(solver, found, question.basis, asked, fold=fold)[:count]))
    return Ends(rows[0], rows[1], question.listed())


def _counts(shown: int, *, fold: bool) -> Iterator[int]:
    """Yield how many states are ranked, more where the first do not make enough rows."""
    yield looked_at(shown) if fold else shown
    if fold and looked_at(shown) < _MOST:
        yield _MOST


def _rows(solver: Solver, found: Found, basis: Basis, asked: int, *, fold: bool) -> list[Fold[On]]:
    return near_states(solver, found, basis, asked) if fold else unfolded(found.on)


def near_states(solver: Solver, found: Found, basis: Basis, asked: int) -> list[Fold[On]]:
    """Return ranked states, those whose gain and loss differ by 0.1 dB at most as one.

    Parameters
    ----------
    solver : of the board
    found : the ranked states
    basis : what a loss is measured against and over
    asked : how many were looked for; where there are as many, more may follow
    """
    figures = same_responses(solver.board, found.on, basis).tolist()
    by_state = dict(zip(found.on, figures, strict=True))
    folds = folded(found.on, lambda on: by_state[on])
    if len(found.on) < asked:
        return folds
    return [replace(fold, at_least=_may_go_on(fold, found)) for fold in folds]


def _may_go_on(fold: Fold[On], found: Found) -> bool:
    """Whether a state behind the last that was looked at could be near the one that is shown."""
    if not found.values:
        return True
    return not abs(found.values[fold.rank - 1] - found.values[-1]) > FOLDED_DB
