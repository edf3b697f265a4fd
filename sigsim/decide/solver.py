"""The solver of integer programmes, without what it writes by itself."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from scipy.optimize import OptimizeResult

_STDOUT = 1


def solved(aim: Any, **given: Any) -> OptimizeResult:
    """Return what `scipy.optimize.milp` finds.

    Its library in C writes a line to standard output when it takes a second look at a solution;
    that would stand before an answer, and in the midst of a JSON document.

    Parameters
    ----------
    aim : the factors of the sum to be made small
    given : what else it takes
    """
    # Loaded only where something is to be solved: the start of the program counts.
    from scipy.optimize import milp

    with _mute():
        return milp(aim, **given)


@contextmanager
def _mute() -> Iterator[None]:
    """Keep from standard output what is not written by Python."""
    try:
        if sys.stdout is not None:
            sys.stdout.flush()
        kept = os.dup(_STDOUT)
    except (OSError, ValueError):  # there is none
        yield
        return
    try:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        try:
            os.dup2(nowhere, _STDOUT)
        finally:
            os.close(nowhere)
        yield
    finally:
        os.dup2(kept, _STDOUT)
        os.close(kept)
