"""When a search ends, and what it says until then."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from sigsim.decide.order.question import Ordered

# How often it is said how far a search is [s].
_OFTEN: Final = 0.2


class EndedError(Exception):
    """The time is up, or nobody wants to know any more."""


@dataclass(frozen=True)
class Progress:
    """How far a search is.

    Attributes
    ----------
    seconds : since it began
    best : the best order so far, None before there is one
    bound : what no order is below [dB]
    """

    seconds: float
    best: Ordered | None
    bound: float


class Clock:
    """Ends a search, and says how far it is.

    Parameters
    ----------
    seconds : how long it may take
    stop : asked now and then whether it is to end
    said : called now and then, None to say nothing
    """

    def __init__(
        self, seconds: float, stop: Callable[[], bool], said: Callable[[float], None] | None
    ) -> None:
        self.began = time.monotonic()
        self.seconds, self.stop, self.said = seconds, stop, said
        self._next = self.began + _OFTEN

    @property
    def passed(self) -> float:
        """How long it has taken [s]."""
        return time.monotonic() - self.began

    @contextmanager
    def part(self, share: float) -> Iterator[None]:
        """End what is done in it once a share of the time is up, and go on behind it.

        Raises
        ------
        EndedError : it is to end altogether
        """
        whole, self.seconds = self.seconds, share * self.seconds
        try:
            yield
        except EndedError:
            if self.stop() or self.passed > whole:
                raise
        finally:
            self.seconds = whole

    def tick(self) -> None:
        """Go on, or not.

        Raises
        ------
        EndedError : it is to end
        """
        if self.stop() or self.passed > self.seconds:
            raise EndedError
        if self.said is not None and time.monotonic() > self._next:
            self.said(self.passed)
            self._next = time.monotonic() + _OFTEN
