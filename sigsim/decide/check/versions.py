"""What to look at in the variants of a board file."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from sigsim.decide.check.caution import Caution

if TYPE_CHECKING:
    from sigsim.board.model import Board


def of_versions(board: Board) -> Iterator[Caution]:
    """Yield what is doubtful in each variant, whichever the board was read with."""
    for version in board.versions:
        if not version.altered and not version.out:
            yield Caution("empty-variant", version.name)
        if version.joined:
            yield Caution("cables-end-to-end", version.name, {"pairs": version.joined})
