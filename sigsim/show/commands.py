"""Command lines to copy: what a shell takes for one command, whatever the names in it are."""

from __future__ import annotations

import shlex
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Sequence

_LONGEST: Final = 75
# Within double quotes a shell leaves all but these as they are.
_LIVE: Final = frozenset('"$`\\!')


def command_lines(command: str, words: Sequence[str]) -> list[str]:
    """Return a command in lines that a shell takes for one.

    Parameters
    ----------
    command : how it begins
    words : what follows, each an option with its value, quoted already
    """
    lines = [command]
    for word in words:
        if len(lines[-1]) + len(word) > _LONGEST:
            lines[-1] += " \\"
            lines.append("   ")
        lines[-1] += f" {word}"
    return lines


def word(text: str) -> str:
    """Return a text as one word of a shell: in double quotes where it needs some, if those do."""
    quoted = shlex.quote(text)
    return quoted if quoted == text or set(text) & _LIVE else f'"{text}"'
