"""Names on a plot: letters of every script, as far as fonts have them, and never mathematics."""

from __future__ import annotations

import logging
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from matplotlib.font_manager import FontEntry

# It comes with matplotlib, so that it is always there.
BASE_FONT: Final = "DejaVu Sans"
_MOST_JOINED: Final = 44
# Around a name that runs from right to left: the rest of the line still runs from left to right.
_LEFT_TO_RIGHT: Final = "\u200e"


@dataclass
class Alphabet:
    """The letters that a plot needs and can show.

    Attributes
    ----------
    families : the fonts, the first that has a letter shows it
    missing : letters that none of them has; they are written as escapes
    used : all that were asked for
    """

    families: tuple[str, ...] = (BASE_FONT,)
    missing: frozenset[str] = frozenset()
    used: set[str] = field(default_factory=set)


_alphabet: ContextVar[Alphabet] = ContextVar("alphabet")


@contextmanager
def lettered(alphabet: Alphabet) -> Iterator[None]:
    """Draw with an alphabet for as long as the block lasts; nothing of it stays."""
    import matplotlib

    settings: Any = {"font.family": ["sans-serif"], "font.sans-serif": list(alphabet.families)}
    # Text that stays text, and no random names inside the file.
    settings |= {"svg.fonttype": "none", "svg.hashsalt": "sigsim"}
    token = _alphabet.set(alphabet)
    # It would tell the user which weight of a font it takes for which.
    chatter = logging.getLogger("matplotlib.font_manager")
    level = chatter.level
    chatter.setLevel(logging.ERROR)
    try:
        with matplotlib.rc_context(settings):
            yield
    finally:
        _alphabet.reset(token)
        chatter.setLevel(level)


def alphabet_for(letters: Iterable[str], *, live: bool = False) -> Alphabet:
    """Return the fonts of this machine that have some letters.

    Parameters
    ----------
    letters : one character each
    live : whether the file keeps text as text, so that its reader's fonts have a say
    """
    left = set(letters) - _covered(BASE_FONT)
    families = [BASE_FONT]
    for family in _families() if left else ():
        if found := left & _covered(family):
            families.append(family)
            left -= found
        if not left:
            break
    return Alphabet(tuple(families), frozenset() if live else frozenset(left))


@cache
def _families() -> tuple[str, ...]:
    """Return upright fonts of ordinary weight, those without serifs first."""
    from matplotlib.font_manager import fontManager

    names = {name for entry in fontManager.ttflist if (name := _plain(entry))}
    return tuple(sorted(names, key=lambda name: ("Sans" not in name, "Mono" in name, name)))


@cache
def _covered(family: str) -> frozenset[str]:
    """Return the characters that a font has."""
    from matplotlib.font_manager import fontManager, get_font

    path = next(e.fname for e in fontManager.ttflist if _plain(e) == family)
    try:
        return frozenset(map(chr, get_font(path).get_charmap()))
    except (OSError, RuntimeError):  # a file that is gone, or no font after all
        return frozenset()


def _plain(entry: FontEntry) -> str | None:
    """Return the family of an upright font of ordinary weight and width, None for others."""
    usual = (entry.style, entry.weight, entry.stretch) == ("normal", 400, "normal")
    # The last resort of some systems has a box for all there is.
    return entry.name if usual and "last" not in entry.name.lower() else None


def written(text: str) -> str:
    """Return one line as matplotlib shows it letter by letter."""
    alphabet = _alphabet.get(None) or Alphabet()
    alphabet.used.update(text)
    shown = "".join(_escape(c) if c in alphabet.missing else c for c in text)
    return _between_sentences(shown).replace("$", r"\$")


def _between_sentences(text: str) -> str:
    """Return a line in which a name that runs from right to left does not turn what is around."""
    right = [unicodedata.bidirectional(c) in ("R", "AL", "NSM") for c in text]
    if not any(right):
        return text
    found = [_LEFT_TO_RIGHT]
    for i, letter in enumerate(text):
        found.append(letter)
        after = text[i + 1 :].lstrip(" ")
        if right[i] and not (after and right[len(text) - len(after)]):
            found.append(_LEFT_TO_RIGHT)
    return "".join(found)


def _escape(letter: str) -> str:
    return f"\\u{ord(letter):04x}" if ord(letter) < 0x10000 else f"\\U{ord(letter):08x}"


def joined(names: Sequence[str]) -> tuple[str, str]:
    """Return names of one thing as a name and the words behind it: all if short, else the first."""
    together = ", ".join(names)
    if len(names) < 2 or len(together) <= _MOST_JOINED:
        return together, ""
    return names[0], f" and {len(names) - 1} more"
