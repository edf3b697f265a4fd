"""Between which levels all states lie."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from sigsim.states.measure import Measure
    from sigsim.states.search import Search

# How long to look for each [s]: where some states are silent, the quietest of the others is one of
# many, and it is only said in passing.
_SECONDS: Final = 1.0


def levels(search: Search, level: Measure) -> tuple[float, float]:
    """Return the lowest and the highest level at 100 Hz [dB] of all states that give sound."""
    lowest, highest = (
        search.ranked(level, largest=largest, seconds=_SECONDS)[0].value
        for largest in (False, True)
    )
    return lowest, highest
