"""Small pieces of text: names that fit, numbers with their units."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from sigsim.metrics import LEVEL_SAID_DB, PRINTED_DIGITS, WORDS
from sigsim.text import escaped, shown
from sigsim.units import render

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sigsim.metrics import Resonance

_MOST_LISTED: Final = 8
_NUMBERS: Final = [
    "none",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
]


def clean(text: str) -> str:
    """Return text of our own, with names in it, on one line; what cannot be seen is an escape."""
    return escaped(text)


def plain(text: str, longest: int = 60) -> str:
    """Return a name so that no other is shown alike, on one line, shortened if long."""
    return one_line(shown(text), longest)


def one_line(text: str, longest: int) -> str:
    """Return text on one line, shortened if long."""
    from rich.cells import cell_len, set_cell_size

    line = " ".join(clean(text).split())
    if cell_len(line) <= longest:
        return line
    return set_cell_size(line, longest - 1).rstrip() + "…"


def in_the_middle(text: str, longest: int) -> str:
    """Return a name no longer than that many columns; what is left out is in its middle.

    Names that differ only at their end stay apart.
    """
    from rich.cells import cell_len

    line = plain(text, 1000)
    if cell_len(line) <= longest:
        return line
    last = (longest - 1) // 2
    tail = line[-last:]
    while cell_len(tail) > last:
        tail = tail[1:]
    return one_line(line, longest - cell_len(tail)) + tail.lstrip()


def listed(names: Sequence[str], mark: str = "'", most: int = _MOST_LISTED) -> str:
    """Return names from a file in one line, with marks around each, not more than `most`."""
    left = len(names) - most
    text = ", ".join(f"{mark}{plain(name, 30)}{mark}" for name in names[:most])
    return text + (f" and {left} more" if left > 0 else "")


def count(number: int, word: str, plural: str = "") -> str:
    """Return `1 piece`, `2 pieces`."""
    return f"{number:,} {word}" if number == 1 else f"{number:,} {plural or word + 's'}"


def level_said(change: float) -> str:
    """Return a change of level [dB] as `3.6 dB louder` where it must be said; empty elsewhere."""
    if not abs(change) >= LEVEL_SAID_DB:
        return ""
    return f"{decibel(abs(change))} dB {'louder' if change > 0 else 'softer'}"


def in_letters(number: int) -> str:
    """Return a small number as a word."""
    return _NUMBERS[number] if number < len(_NUMBERS) else f"{number:,}"


def hertz(value: float | None) -> str:
    """Return a frequency as `2.93 kHz`, "none" for None."""
    return "none" if value is None else render(value, "Hz")


def short_hertz(value: float | None) -> str:
    """Return a frequency for a narrow column: `2.93k`, `870`, `none`."""
    if value is None:
        return "none"
    return f"{value / 1000:.3g}k" if value >= 999.5 else f"{value:.0f}"


def decibel(value: float, digits: int = PRINTED_DIGITS, *, sign: str = "") -> str:
    """Return a level without a sign unless negative, "-" where there is none."""
    if not math.isfinite(value):
        return "-"
    rounded = round(value, digits) + 0.0  # no minus zero
    return f"{rounded:{sign}.{digits}f}"


def signed(value: float, digits: int = PRINTED_DIGITS) -> str:
    """Return a level change with its sign, "-" where there is none."""
    return decibel(value, digits, sign="+")


def difference(value: float) -> str:
    """Return how far two programs are apart, in a few characters."""
    if not math.isfinite(value):
        return "silent"
    return "0" if value == 0 else f"{value:.1e}"


def in_words() -> str:
    """Return the words for a treble loss with their limits, in a line."""
    first, last = (f"{word} {side} {limit:g} dB" for word, side, limit in _ends())
    middle = [f"{word} under {limit:g} dB" for limit, word in WORDS[1:-1]]
    return ", ".join((first, *middle, last))


def _ends() -> tuple[tuple[str, str, float], tuple[str, str, float]]:
    return (WORDS[0][1], "under", WORDS[0][0]), (WORDS[-1][1], "from", WORDS[-2][0])


def peak(resonance: Resonance | None) -> str:
    """Return a resonance for a narrow column: `2.93k +6.2`, `none`."""
    if resonance is None:
        return "none"
    return f"{short_hertz(resonance.frequency)} {signed(resonance.height)}"
