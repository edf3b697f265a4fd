"""Rows that are nearly equal, folded into one for the eye."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final, TypeVar

from sigsim.metrics import PRINTED_DIGITS

# Rows count as equal within one step of a number as it is printed.
NEAR_DB: Final = 10.0**-PRINTED_DIGITS
_NUMBERS: Final = (
    "none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
)  # fmt: skip
_T = TypeVar("_T")


def folded(
    rows: Sequence[_T], value: Callable[[_T], float], *, every: bool = False
) -> list[list[_T]]:
    """Return rows in groups of those that lie within `NEAR_DB` of the first of the group.

    Parameters
    ----------
    rows : in the order of their values
    value : of a row [dB]
    every : whether each row is a group of its own
    """
    groups: list[list[_T]] = []
    for row in rows:
        if not every and groups and abs(value(row) - value(groups[-1][0])) <= NEAR_DB:
            groups[-1].append(row)
        else:
            groups.append([row])
    return groups


def in_letters(number: int) -> str:
    """Return a small number as a word."""
    return _NUMBERS[number] if number < len(_NUMBERS) else f"{number:,}"


def more_like_it(number: int) -> str:
    """Say how many rows were folded into the one above."""
    return f"  {in_letters(number)} more within {NEAR_DB:g} dB of it"
