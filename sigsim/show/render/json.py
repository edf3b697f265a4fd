"""JSON as every command writes it."""

from __future__ import annotations

import json
import math
from typing import Any

from sigsim.text import escaped_json


def json_document(values: Any, *, indent: int | None = 2) -> str:
    """Return plain values as one JSON document in which every character is seen.

    Parameters
    ----------
    values : dictionaries, lists, text, numbers, None
    indent : of each level; None for all on one line

    Raises
    ------
    ValueError : a number that is not finite, which JSON does not know
    """
    return escaped_json(json.dumps(values, ensure_ascii=False, indent=indent, allow_nan=False))


def finite(value: float | None) -> float | None:
    """Return a number for JSON: None unless it is finite."""
    return value if value is not None and math.isfinite(value) else None
