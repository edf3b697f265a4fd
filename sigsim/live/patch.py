"""What is different between two texts that are mostly the same, so that steps stay small."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Patch:
    """The stretch that differs.

    Attributes
    ----------
    start : where it begins
    old, new : what stands there in the one text and in the other
    """

    start: int
    old: str
    new: str

    def forth(self, text: str) -> str:
        """Return the second text, given the first."""
        return text[: self.start] + self.new + text[self.start + len(self.old) :]

    def back(self, text: str) -> str:
        """Return the first text, given the second."""
        return text[: self.start] + self.old + text[self.start + len(self.new) :]


def patch_of(before: str, after: str) -> Patch:
    """Return what leads from one text to another."""
    start = _alike(before, after)
    end = _alike(before[start:][::-1], after[start:][::-1])
    return Patch(start, before[start : len(before) - end], after[start : len(after) - end])


def _alike(one: str, other: str) -> int:
    """Return how many characters at the beginning are the same."""
    low, high = 0, min(len(one), len(other))
    while low < high:
        middle = (low + high + 1) // 2
        if one[low:middle] == other[low:middle]:
            low = middle
        else:
            high = middle - 1
    return low
