"""One draw out of a board of many."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np


def one(item: Any, draw: int) -> Any:
    """Return an item, or a whole board, of one draw, with plain numbers."""
    changes: dict[str, Any] = {}
    for field in dataclasses.fields(item):
        value = getattr(item, field.name)
        if isinstance(value, np.ndarray):
            changes[field.name] = float(value[draw, 0])
        elif isinstance(value, tuple) and value and dataclasses.is_dataclass(value[0]):
            changes[field.name] = tuple(one(inner, draw) for inner in value)
        elif dataclasses.is_dataclass(value):
            changes[field.name] = one(value, draw)
    return dataclasses.replace(item, **changes)
