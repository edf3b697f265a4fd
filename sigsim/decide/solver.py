"""The solver of integer programmes, and what is to be done around it."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext
from typing import TYPE_CHECKING, Any, Final, TypeAlias

if TYPE_CHECKING:
    from scipy.optimize import OptimizeResult

    Around: TypeAlias = Callable[[], AbstractContextManager[None]]

_AROUND: Final[list[Around]] = [nullcontext]
# How often it is looked whether someone wants the program to end [s].
_OFTEN: Final = 0.1


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

    It runs beside the thread that asks, which so can be stopped: the library in C hears no signal.

    Parameters
    ----------
    aim : the factors of the sum to be made small
    given : what else it takes
    """
    # Loaded only where something is to be solved: the start of the program counts.
    from threading import Thread

    from scipy.optimize import milp

    found: list[OptimizeResult] = []
    failed: list[BaseException] = []

    def solve() -> None:
        try:
            found.append(milp(aim, **given))
        except BaseException as error:
            failed.append(error)

    with _AROUND[0]():
        solving = Thread(target=solve, daemon=True)
        solving.start()
        while solving.is_alive():
            solving.join(_OFTEN)
    for error in failed:
        raise error
    return found[0]
