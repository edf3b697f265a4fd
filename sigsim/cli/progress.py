"""Progress on standard error for what takes longer than a second."""

from __future__ import annotations

import sys
from time import monotonic
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Callable

_FIRST: Final = 1.0
_TERMINAL: Final = 0.2
_ELSEWHERE: Final = 5.0


class Latest:
    """Says now and then how things stand."""

    def __init__(self) -> None:
        self._next = monotonic() + _FIRST
        self._terminal = sys.stderr.isatty()
        self._said = False

    def __call__(self, text: Callable[[], str]) -> None:
        """Say how things stand, where it is time for it."""
        now = monotonic()
        if now < self._next:
            return
        self._next = now + (_TERMINAL if self._terminal else _ELSEWHERE)
        line = text()
        sys.stderr.write(f"{line:<78}\r" if self._terminal else line + "\n")
        sys.stderr.flush()
        self._said = True

    def finish(self) -> None:
        """Clear the line of a terminal."""
        if self._said and self._terminal:
            sys.stderr.write(f"{'':<78}\r")
            sys.stderr.flush()


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
        self._latest = Latest()
        self.finish = self._latest.finish

    def __call__(self, done: int) -> None:
        """Count some more."""
        self.done += done
        self._latest(self._text)

    def _text(self) -> str:
        rate = self.done / (monotonic() - self._started)
        left = (self.total - self.done) / rate if rate else 0.0
        return (
            f"{self._each * self.done:,.0f} of {self._each * self.total:,.0f} {self.unit}, "
            f"{self._each * rate:,.0f} a second, {left:.0f} s left"
        )
