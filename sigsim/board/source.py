"""The text of a board file before TOML is made of it: read in safety, and no larger than is meant.

What a parser of TOML needs for a key of thousands of parts or a number of millions of digits grows
far beyond the size of the file, so both are looked for in one pass over the text.
"""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Collection
from pathlib import Path
from typing import Final

from sigsim.errors import SigsimError, nearest, shown_path

MOST_BYTES: Final = 1_000_000
MOST_PARTS: Final = 16
LONGEST_NUMBER: Final = 100

# What is already open under these names ends some time; a pipe in a folder may wait for ever.
ALREADY_OPEN: Final = ("/dev/fd/", "/dev/stdin", "/proc/self/fd/")

_PART: Final = r"""(?:[A-Za-z0-9_+\-:]+|"(?:[^"\\\n]|\\[^\n])*+"|'[^'\n]*+')"""
# Strings of several lines, then comments, then whatever may be a key or a number. A string that
# does not end goes on to the end of its line or of the text, so that nothing is looked at twice:
# the parser will say what is wrong with it.
_TOKEN: Final = re.compile(
    rf"""
    "{{3}}(?:[^"\\]|\\.|"(?!""))*+(?:"{{3,5}}|\Z)
    | '{{3}}(?:[^']|'(?!''))*+(?:'{{3,5}}|\Z)
    | \#[^\n]*+
    | (?P<key>{_PART}(?:[ \t]*+\.[ \t]*+{_PART})*+)(?P<given>[ \t]*+=)?
    | ["'][^\n]*+
    """,
    re.VERBOSE | re.DOTALL,
)
_PARTS: Final = re.compile(_PART, re.DOTALL)
_NUMBER: Final = re.compile(r"[+\-]?[0-9]")


def read_text(path: Path, kind: str = "a board file") -> str:
    """Return the text of a board file.

    Parameters
    ----------
    path : of the file
    kind : what is wanted, in the words of a message

    Raises
    ------
    SigsimError : there is none, it is no ordinary file, too large, or no text in UTF-8
    """
    raw = read_raw(path, kind)
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise SigsimError(
            f"this is not a text file; {kind} is TOML in UTF-8", where=shown_path(path)
        ) from None


def read_raw(path: Path, kind: str = "a board file") -> bytes:
    """Return what is in a board file. Raises as `read_text`, but for what is no text."""
    where = shown_path(path)
    try:
        with open(os.open(path, os.O_RDONLY | _not_waiting(path, where, kind)), "rb") as file:
            raw = file.read(MOST_BYTES + 1)
    except FileNotFoundError:
        near = nearest_file(path, (".toml",))
        raise SigsimError("there is no such file", where=where, nearest=near) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise SigsimError(f"the file cannot be read: {reason}", where=where) from None
    if len(raw) > MOST_BYTES:
        raise SigsimError(
            f"the file is larger than the {MOST_BYTES // 10**6} MB {kind} may have",
            where=where,
        )
    return raw


def _not_waiting(path: Path, where: str, kind: str) -> int:
    """Refuse what is no ordinary file; return how to open one that turned into a pipe since."""
    mode = path.stat().st_mode
    if stat.S_ISDIR(mode):
        near = nearest_file(path, (".toml",))
        what = f"this is a folder; {kind} is wanted"
        raise SigsimError(what, where=where, nearest=near)
    if stat.S_ISFIFO(mode) and str(path).startswith(ALREADY_OPEN):
        return 0
    if not stat.S_ISREG(mode):
        raise SigsimError(f"this is no ordinary file; {kind} is wanted", where=where)
    return getattr(os, "O_NONBLOCK", 0)


def nearest_file(path: Path, endings: Collection[str]) -> str | None:
    """Return the file beside a path that is named most like it, of those with some endings."""
    try:
        beside = [
            p.name for p in path.parent.glob("*") if p.suffix.lower() in endings and p.is_file()
        ]
        whole = nearest(path.name, beside, 0.75)
        if path.suffix.lower() in endings:
            return whole
        # Whoever leaves the ending out, or has another, means the file of that name.
        stems = {Path(name).stem: name for name in sorted(beside)}
        stem = path.stem if path.suffix else path.name
        return stems.get(nearest(stem, stems, 0.75) or "", whole) or whole
    except (OSError, ValueError):
        return None


def check_sizes(text: str, file: str) -> None:
    """Refuse keys of too many parts and numbers that are too long, before anything is parsed.

    Raises
    ------
    SigsimError : naming the line
    """
    for token in _TOKEN.finditer(text):
        key = token["key"]
        if key is None or len(key) < 2 * MOST_PARTS:
            continue
        parts = sum(1 for _ in _PARTS.finditer(key))
        number = _NUMBER.match(key) and not token["given"] and not set(key) & set("\"'")
        if number and len(key) > LONGEST_NUMBER:
            what, most, found = "a number", f"{LONGEST_NUMBER} characters", len(key)
        elif parts > MOST_PARTS:
            what, most, found = "a key", f"{MOST_PARTS} parts", parts
        else:
            continue
        line = text.count("\n", 0, token.start()) + 1
        raise SigsimError(
            f"{what} has at most {most}", where=f"{file}, line {line}", found=f"{found:,}"
        )
