"""Progress on standard error for what takes longer than a second."""

from __future__ import annotations

import sys
from time import monotonic
from typing import Final

_FIRST: Final = 1.0
_TERMINAL: Final = 0.2
_ELSEWHERE: Final = 5.0


class Progress:
    """Counts what is done and says so now and then, with rate and time left.

    Parameters
    ----------
    total : how much there is to do
    unit : what is counted, in the plural
    each : how many of these units one of `total` is
    """

    def __init__(self, total: int, unit: str, *, each: float = 1.0) -> None:
        self._each = each
        self.total, self.unit, self.done = total, unit, 0
        self._started = monotonic()
        self._next = self._started + _FIRST
        self._terminal = sys.stderr.isatty()
        self._said = False

    def __call__(self, done: int) -> None:
        """Count some more."""
        self.done += done
        now = monotonic()
        if now >= self._next:
            self._next = now + (_TERMINAL if self._terminal else _ELSEWHERE)
            self._say(now)

    def _say(self, now: float) -> None:
        rate = self.done / (now - self._started)
        left = (self.total - self.done) / rate if rate else 0.0
        text = (
            f"{self._each * self.done:,.0f} of {self._each * self.total:,.0f} {self.unit}, "
            f"{self._each * rate:,.0f} a second, {left:.0f} s left"
        )
        end = "\r" if self._terminal else "\n"
        sys.stderr.write(f"{text:<78}{end}" if self._terminal else text + end)
        sys.stderr.flush()
        self._said = True

    def finish(self) -> None:
        """Clear the line of a terminal."""
        if self._said and self._terminal:
            sys.stderr.write(f"{'':<78}\r")
            sys.stderr.flush()
