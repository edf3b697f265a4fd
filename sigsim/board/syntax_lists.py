"""Lists in a board file that is not TOML: as they are probably meant."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final, NamedTuple

_NAMES: Final = "names in a list need straight quotes"
_COMMAS: Final = "names in a list are parted by commas"


class Mended(NamedTuple):
    """A line, or a piece of it, as it is probably meant, and what was wrong; empty for nothing."""

    why: str
    text: str


def quoted(text: str) -> str:
    """Return a text in quotes."""
    return f"'{text}'" if '"' in text or "\\" in text else f'"{text}"'


def as_list(value: str) -> Iterator[Mended]:
    """Yield a list of names in which quotes, a comma or the last bracket are missing.

    Parameters
    ----------
    value : from its first bracket on
    """
    if re.match(r"\[\s*\[", value):
        yield from _as_rows(value)
        return
    inner = value.strip("[]() ;,")
    closed = value.rstrip().endswith("]")
    if not closed:
        yield Mended("the ] at the end of the list is missing", f"[{inner}]")
    if names := _quoted_names(inner):
        yield Mended(_COMMAS, f"[{', '.join(names)}]")
    yield Mended(_NAMES, f"[{', '.join(_words(inner))}]")


def _as_rows(value: str) -> Iterator[Mended]:
    """Yield a list of lists on one line in which quotes or commas are missing."""
    rows = re.findall(r"\[([^\[\]]*)\]", value)
    if not rows or re.sub(r"\[[^\[\]]*\]|[\s,;]", "", value) not in ("[]", "["):
        return
    named = [_quoted_names(row) for row in rows]
    words = [names or _words(row) for names, row in zip(named, rows, strict=True)]
    made = ", ".join(f"[{', '.join(row)}]" for row in words)
    yield Mended(_COMMAS if all(named) else _NAMES, f"[{made}]")


def _quoted_names(inner: str) -> list[str]:
    """Return the names of a list where all of them have quotes, none where some have not."""
    bare = re.sub(r'"[^"]*"', "", inner).strip(" ,;\t")
    return [] if bare.replace(",", "").strip() else re.findall(r'"[^"]*"', inner)


def _words(inner: str) -> list[str]:
    words = [word.strip().strip("\"'").strip() for word in inner.split(",")]
    return [quoted(word) for word in words if word]
