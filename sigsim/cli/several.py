"""Several boards in one command."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from sigsim.errors import SigsimError, shown_path

if TYPE_CHECKING:
    from collections.abc import Sequence


def refuse_twice(paths: Sequence[str], what: str) -> None:
    """Refuse one file twice among several, by whatever paths.

    Parameters
    ----------
    paths : of the files
    what : is wrong with that

    Raises
    ------
    SigsimError : a file is there twice
    """
    places = [_place(path) for path in paths]
    for path, place in zip(paths, places, strict=True):
        if places.count(place) > 1:
            raise SigsimError(
                f"this is the same file twice: {what}",
                where=shown_path(path),
                accepted="different board files",
            )


def _place(path: str) -> Path:
    """Return where a file really is; a name that cannot be used is left for the reader."""
    try:
        return Path(path).resolve()
    except (OSError, ValueError, RuntimeError):
        return Path(path)
