"""Names, comments and numbers that are safe in a netlist, whatever a board file says.

Text of a board appears in two places only. In names it is reduced to lower-case ASCII letters,
digits and underscores behind a prefix of our own; in comments to letters, digits, a few marks and
escapes for all else, on lines that begin with an asterisk and a space. Nothing of it can end a
line, begin a directive or reach a command interpreter.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from typing import Final, SupportsFloat

from sigsim.text import escape

LONGEST_SLUG: Final = 24
# A piece of a comment line: an escape is not torn apart.
_PIECE: Final = re.compile(r"(?:\\u[0-9a-f]{4}|.){1,120}")
_MARKS: Final = frozenset(" -_,()+")


def slug(text: str, otherwise: str) -> str:
    """Return a board's name as part of a node name: `Coal Fuzz!` is `coal_fuzz`.

    Parameters
    ----------
    text : a name from a board file
    otherwise : what to use where nothing of it can be kept
    """
    plain = unicodedata.normalize("NFKD", text[: 10 * LONGEST_SLUG]).encode("ascii", "ignore")
    kept = "".join(c if c.isalnum() else " " for c in plain.decode().lower())
    return "_".join(kept.split())[:LONGEST_SLUG].rstrip("_") or otherwise


def safe(text: str) -> str:
    """Return a board's text, whole, for use within a comment line."""
    return "".join(c if _stands(text, i) else escape(c) for i, c in enumerate(text))


def _stands(text: str, place: int) -> bool:
    """Whether a character of a board's text may stand in a comment: a point only in a number."""
    c = text[place]
    if c == ".":
        return text[place - 1 : place].isdigit() and text[place + 1 : place + 2].isdigit()
    return c in _MARKS or (c.isalnum() and unicodedata.is_normalized("NFC", c))


def folded(line: str) -> Iterator[str]:
    """Yield a comment line of any length as lines that every simulator reads."""
    pieces = _PIECE.findall(line) if line.startswith("* ") else [line]
    yield pieces[0]
    yield from (f"*     {piece}" for piece in pieces[1:])


def number(value: SupportsFloat) -> str:
    """Return a value as SPICE reads it on every system: a plain exponent, no suffix, all digits.

    Suffixes are avoided because SPICE reads M as milli.
    """
    return repr(float(value))
