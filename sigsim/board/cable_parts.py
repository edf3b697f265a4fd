"""The cables of the parts library, ready to be put into a board."""

from __future__ import annotations

from collections.abc import Mapping

from sigsim.board.parts import OURS, Library
from sigsim.board.tables import read_table
from sigsim.items.cable import CableSpec


def library_cables(library: Library = OURS) -> Mapping[str, CableSpec]:
    """Return every cable of a library by its name."""
    found = {}
    for name, part in library.parts().items():
        if part.kind == "cable":
            table = read_table(CableSpec, part.values, name)
            found[name] = CableSpec(**table.values, tolerances=table.tolerances, part=name)
    return found


def sale_of(part: str, library: Library = OURS) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return what a cable of a library is bought for, and how it is sold; empty for no part."""
    found = library.of(part)
    return (found.use, found.sold) if found is not None else ((), ())
