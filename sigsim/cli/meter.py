"""The level of what comes in, on standard error while it is recorded."""

from __future__ import annotations

import math
import sys
from typing import Final

_TERMINAL: Final = 0.2
_ELSEWHERE: Final = 5.0


def level(peak: float) -> str:
    """Return a peak, full scale 1, as a person reads it."""
    return f"{20 * math.log10(peak):.0f} dBFS" if peak > 0 else "nothing"


class Meter:
    """Says the peak and how far it is, now and then.

    Parameters
    ----------
    seconds : how long it takes in all
    """

    def __init__(self, seconds: float) -> None:
        self._seconds = seconds
        self._terminal = sys.stderr.isatty()
        self._every = _TERMINAL if self._terminal else _ELSEWHERE
        self._next, self._peak, self._said = self._every, 0.0, False

    def __call__(self, peak: float, done: float) -> None:
        """Take the peak of the last moments, full scale 1, and what is done [s]."""
        self._peak = max(self._peak, peak)
        if done < self._next:
            return
        text = f"peak {level(self._peak)}, {done:.0f} of {self._seconds:.0f} s"
        sys.stderr.write(f"{text:<78}\r" if self._terminal else f"{text}\n")
        sys.stderr.flush()
        self._next, self._peak, self._said = done + self._every, 0.0, True

    def finish(self) -> None:
        """Clear the line of a terminal."""
        if self._said and self._terminal:
            sys.stderr.write(f"{'':<78}\r")
            sys.stderr.flush()
