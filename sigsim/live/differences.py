"""Two texts line by line."""

from __future__ import annotations

from difflib import SequenceMatcher


def changed_lines(before: str, after: str) -> list[int]:
    """Return the numbers of the lines of `after` that are not as they were, from 1.

    Where lines were left out, the line that follows counts, at the end the one before.
    """
    found: set[int] = set()
    new = _lines(after)
    for what, _, _, start, end in _compared(_lines(before), new):
        if what == "delete":
            start = min(start, len(new) - 1)
            end = start + 1
        if what != "equal":
            found.update(range(start + 1, end + 1))
    return sorted(found)


def difference(before: str, after: str) -> list[dict[str, str]]:
    """Return all lines of two texts, each with its sign: " " in both, "-" before, "+" after."""
    old, new = _lines(before), _lines(after)
    found: list[dict[str, str]] = []
    for what, first, last, start, end in _compared(old, new):
        if what == "equal":
            found += [{"sign": " ", "text": line} for line in new[start:end]]
        else:
            found += [{"sign": "-", "text": line} for line in old[first:last]]
            found += [{"sign": "+", "text": line} for line in new[start:end]]
    return found


def _lines(text: str) -> list[str]:
    # Not splitlines, which knows of more line ends than a board file and a page have.
    return text.replace("\r\n", "\n").split("\n")


def _compared(old: list[str], new: list[str]) -> list[tuple[str, int, int, int, int]]:
    return list(SequenceMatcher(None, old, new, autojunk=len(new) > 5000).get_opcodes())
