"""The files of numbers that our code did not make, and the folder each kind of them stands in."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Final

REFERENCE: Final = Path(__file__).parents[2] / "reference"
# A folder that holds nothing is not there. What a simulator answered is kept in its own form.
FOLDERS: Final[Mapping[str, frozenset[str]]] = {
    "published": frozenset(
        {"published", "derived", "worked by hand", "common practice", "from memory"}
    ),
    "measured": frozenset({"measured"}),
}


def files() -> list[Path]:
    """Return every file of cases, in the order of their names."""
    found = [path for folder in FOLDERS for path in (REFERENCE / folder).glob("*.toml")]
    return sorted(found, key=lambda path: path.stem)


def file(stem: str) -> Path:
    """Return the one file of this name, whichever folder it stands in."""
    (found,) = (path for path in files() if path.stem == stem)
    return found
