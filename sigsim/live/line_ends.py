"""Line ends: a page gives a text back with one kind of them, and the file may have another."""

from __future__ import annotations

import re
from typing import Final

_END: Final = re.compile(r"\r\n|\n|\r")


def with_ends_of(old: str, new: str) -> str:
    """Return a text with the line ends of another.

    Parameters
    ----------
    old : the text whose line ends are kept
    new : the same text changed, with any line ends

    Returns
    -------
    `new`, in which a line that is in `old` too ends as it does there, and a new one as most do
    """
    lines = _END.split(new)
    if "\r" not in old:
        return "\n".join(lines)
    ends = _END.findall(old)
    usual = max(("\n", "\r\n", "\r"), key=ends.count)
    given = [usual] * (len(lines) - 1)
    if len(set(ends)) > 1:
        from difflib import SequenceMatcher

        for a, b, size in SequenceMatcher(
            None, _END.split(old), lines, autojunk=False
        ).get_matching_blocks():
            for i in range(min(size, len(ends) - a, len(given) - b)):
                given[b + i] = ends[a + i]
    return "".join(line + end for line, end in zip(lines, [*given, ""], strict=True))
