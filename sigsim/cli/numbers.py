"""Numbers as a person writes them on a command line."""

from __future__ import annotations

import math
from typing import Any


def number(text: str) -> float:
    """Return a number, NaN for what is none."""
    try:
        return float(text)
    except ValueError:
        return math.nan


def number_or_text(value: Any) -> Any:
    """Return a number without a unit as one, for `units.parse`; anything else as it is."""
    try:
        return float(value)
    except ValueError:
        return value
