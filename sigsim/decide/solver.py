"""The solver of integer programmes, and what is to be done around it."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext
from typing import TYPE_CHECKING, Any, Final, TypeAlias

if TYPE_CHECKING:
    from scipy.optimize import OptimizeResult

    Around: TypeAlias = Callable[[], AbstractContextManager[None]]

_AROUND: Final[list[Around]] = [nullcontext]


def solve_within(around: Around) -> None:
    """Let the solver run within a context.

    Its library in C writes a line to standard output when it takes a second look at a solution.
    Whoever prints answers keeps that from standing before one, or in a JSON document.

    Parameters
    ----------
    around : makes the context, anew each time
    """
    _AROUND[:] = [around]


def solved(aim: Any, **given: Any) -> OptimizeResult:
    """Return what `scipy.optimize.milp` finds.

    Parameters
    ----------
    aim : the factors of the sum to be made small
    given : what else it takes
    """
    # Loaded only where something is to be solved: the start of the program counts.
    from scipy.optimize import milp

    with _AROUND[0]():
        return milp(aim, **given)
