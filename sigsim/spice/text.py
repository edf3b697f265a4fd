"""Names, comments and numbers that are safe in a netlist, whatever a board file says.

Text of a board appears in two places only. In names it is reduced to lower-case ASCII letters,
digits and underscores behind a prefix of our own; in comments to letters, digits and a few marks
on one short line that begins with an asterisk and a space. Nothing of it can end a line, begin a
directive or reach a command interpreter.
"""

from __future__ import annotations

import unicodedata
from typing import Final, SupportsFloat

LONGEST_SLUG: Final = 24
LONGEST_COMMENT: Final = 60
_MARKS: Final = frozenset(" -_,()+")


def slug(text: str, otherwise: str) -> str:
    """Return a board's name as part of a node name: `Wool Fuzz!` is `wool_fuzz`.

    Parameters
    ----------
    text : a name from a board file
    otherwise : what to use where nothing of it can be kept
    """
    plain = unicodedata.normalize("NFKD", text[: 10 * LONGEST_SLUG]).encode("ascii", "ignore")
    kept = "".join(c if c.isalnum() else " " for c in plain.decode().lower())
    return "_".join(kept.split())[:LONGEST_SLUG].rstrip("_") or otherwise


def safe(text: str, longest: int = LONGEST_COMMENT) -> str:
    """Return a board's text for use within a comment line."""
    shown = text[: 10 * longest]
    kept = "".join(
        c if c.isalnum() or c in _MARKS else _stand_in(shown, i) for i, c in enumerate(shown)
    )
    line = " ".join(kept.split())
    return line if len(line) <= longest else line[: longest - 3].rstrip() + "..."


def _stand_in(text: str, index: int) -> str:
    """Return what replaces a character: a point stays within a number, space stays space."""
    within = text[index - 1 : index].isdigit() and text[index + 1 : index + 2].isdigit()
    if text[index] == "." and within:
        return "."
    return " " if text[index].isspace() else "_"


def number(value: SupportsFloat) -> str:
    """Return a value as SPICE reads it on every system: a plain exponent, no suffix, all digits.

    Suffixes are avoided because SPICE reads M as milli.
    """
    return repr(float(value))
