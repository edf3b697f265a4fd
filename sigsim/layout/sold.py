"""Lengths in which cables are sold."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sigsim.layout.exact import whole

if TYPE_CHECKING:
    from collections.abc import Sequence


def taken(run: float, sold: Sequence[float]) -> float | None:
    """Return the length to take [m]: the run itself where it is cut, None where all are too short.

    Parameters
    ----------
    run : what is needed, slack included [m]
    sold : ready-made lengths [m], in any order; none where a cable is cut to length
    """
    if not sold:
        return run
    # In whole nanometres: a run of 30 cm, summed from its pieces, takes a cable of 30 cm.
    enough = [length for length in sold if whole(length) >= whole(run)]
    return min(enough, default=None)
