"""Less of what is alike in every run; all of it where somebody asks: SIGSIM_FULL=1 pytest."""

from __future__ import annotations

import os
from collections.abc import Sequence
from itertools import product
from typing import Any, Final

FULL: Final = os.environ.get("SIGSIM_FULL", "") not in ("", "0")


def tries(few: int, every: int) -> int:
    """Return how many random cases are tried: the first few of them, or every one."""
    return every if FULL else few


def some(values: Sequence[Any], step: int) -> list[Any]:
    """Return every so many of the values that are alike, the first and the last among them."""
    return list(values) if FULL else [*values[:-1:step], values[-1]]


def crossed(*lists: Sequence[Any]) -> list[tuple[Any, ...]]:
    """Return tuples in which each value of each list stands at least once; or all there are."""
    if FULL:
        return list(product(*lists))
    longest = max(map(len, lists))
    return [tuple(values[n % len(values)] for values in lists) for n in range(longest)]


def only_full(*values: Any) -> tuple[Any, ...]:
    """Return values that say what others say already: none of them in every run."""
    return values if FULL else ()
