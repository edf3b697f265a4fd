"""What the ends of a connection are called."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from sigsim.decide.sheet_runs import Point

_POINTS: Final = {
    "instrument": "instrument",
    "stage": "{name}",
    "loop in": "{name}: input",
    "loop out": "{name}: output",
    "send": "{name}: send",
    "return": "{name}: return",
    "joint": "joint of two cables",
    "tap": "Y for {name}",
    "far end": "{name} (far end)",
    "split": "split {name}",
    "destination": "{name}",
}


def point(place: Point) -> str:
    """Name one end of a connection."""
    return _POINTS[place.at].format(name=place.name)
