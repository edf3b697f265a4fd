"""A changed copy of a board: what is said when it was written, or was not."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Written:
    """What was written, or why nothing was.

    Attributes
    ----------
    said : in a line or two
    values : the same as plain JSON values
    """

    said: str
    values: dict[str, Any]
