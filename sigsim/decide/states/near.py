"""The worst and the best states, those that sound nearly alike as one where that is wanted."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final, NamedTuple

from sigsim.decide.folding import FOLDED_DB, Fold, folded, unfolded
from sigsim.decide.loss.report import same_response
from sigsim.states.search import Search

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sigsim.board.state import On
    from sigsim.decide.states.corners import CornerTally
    from sigsim.decide.states.question import StatesQuestion
    from sigsim.metrics import Basis
    from sigsim.states.response import Solver

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


def ends(
    question: StatesQuestion,
    solver: Solver,
    shown: tuple[int, int],
    corners: CornerTally | None,
    *,
    fold: bool,
) -> tuple[tuple[tuple[Fold[On], ...], ...], bool]:
    """Return the worst and the best states, and whether every state was covered.

    Parameters
    ----------
    question : what is asked
    solver : of the board
    shown : how many rows of the worst and of the best
    corners : of all states, where they rank
    fold : whether states that sound nearly alike are one row
    """
    ranking = question.ranking()
    proven, rows = ranking is not None or question.listed(), []
    for worst, count in zip((True, False), shown, strict=True):
        if ranking is None:
            assert corners is not None
            # Where every state is silent, every stage off stands for all.
            off = (frozenset(n for n, on in (question.fixed or {}).items() if on),)
            found = Found((corners.worst() if worst else corners.best()) or off)
            asked = looked_at(count) if fold else count
            rows.append(_rows(solver, found, question.basis, asked, fold=fold)[:count])
            continue
        for asked in _counts(count, fold=fold):
            measure, large_is_bad = ranking
            largest = large_is_bad == worst
            search = Search(question.board, [measure], question.fixed)
            ranked = search.ranked(measure, asked, largest=largest)
            found = Found(tuple(s.on for s in ranked), tuple(s.value for s in ranked))
            folds = _rows(solver, found, question.basis, asked, fold=fold)
            if len(folds) >= count or len(ranked) < asked:
                break
        proven = proven and all(state.exact for state in ranked)
        rows.append(folds[:count])
    return tuple(map(tuple, rows)), proven


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
    folds = folded(found.on, lambda on: same_response(solver, on, basis))
    if len(found.on) < asked:
        return folds
    return [replace(fold, at_least=_may_go_on(fold, found)) for fold in folds]


def _may_go_on(fold: Fold[On], found: Found) -> bool:
    """Whether a state behind the last that was looked at could be near the one that is shown."""
    if not found.values:
        return True
    return not abs(found.values[fold.rank - 1] - found.values[-1]) > FOLDED_DB
