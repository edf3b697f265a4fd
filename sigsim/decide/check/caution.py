"""One thing to look at."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True)
class Caution:
    """One thing to look at.

    Attributes
    ----------
    code : a short word for programs
    subject : the stage, tap, cable, knob or scene
    values : what the words need, in SI units
    """

    code: str
    subject: str
    values: dict[str, Any] = field(default_factory=dict)
