"""Measuring: recordings of a sweep become responses, and responses figures of a board file."""

from __future__ import annotations

# As in the package itself: whoever needs one piece does not wait for all.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from typing import Any

    from sigsim.measure.comparison import Compared, verify
    from sigsim.measure.heard import hear
    from sigsim.measure.known import Across, Known
    from sigsim.measure.played import Played, Sweep, read_played
    from sigsim.measure.ratios import alone, ratio
    from sigsim.measure.recipes.measure import fit, measure
    from sigsim.measure.response import Heard, Ratio
    from sigsim.measure.result import Measured
    from sigsim.measure.verdict import Verified

__all__ = [
    "Across",
    "Compared",
    "Heard",
    "Known",
    "Measured",
    "Played",
    "Ratio",
    "Sweep",
    "Verified",
    "alone",
    "fit",
    "hear",
    "measure",
    "ratio",
    "read_played",
    "verify",
]

_HOMES = {
    "Across": "known",
    "Compared": "comparison",
    "Heard": "response",
    "Known": "known",
    "Measured": "result",
    "Played": "played",
    "Ratio": "response",
    "Sweep": "played",
    "Verified": "verdict",
    "alone": "ratios",
    "fit": "recipes.measure",
    "hear": "heard",
    "measure": "recipes.measure",
    "ratio": "ratios",
    "read_played": "played",
    "verify": "comparison",
}


def __getattr__(name: str) -> Any:
    from importlib import import_module

    if name in _HOMES:
        return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)
