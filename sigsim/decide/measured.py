"""Which figures of a board its file says were measured, and when."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sigsim.decide.page.figures import things
from sigsim.items.cable import Cable

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sigsim.board.model import Board


@dataclass(frozen=True)
class MeasuredThing:
    """Something whose figures were measured.

    Attributes
    ----------
    kind : "instrument", "pickup", "cable", "stage", "loop", "tap", "destination", or "length" for
        a piece of cable in the chain
    name : what it is called, empty for the instrument
    day : on which, `2026-11-28`
    """

    kind: str
    name: str
    day: str


def measured(board: Board) -> tuple[MeasuredThing, ...]:
    """Return all of a board of which its file tells such a day, each once."""
    return tuple(dict.fromkeys(_measured(board)))


def _measured(board: Board) -> Iterator[MeasuredThing]:
    for kind, name, thing in things(board):
        if thing.measured:
            yield MeasuredThing(kind, name, thing.measured)
    for item in board.items():
        if isinstance(item, Cable) and item.measured:
            yield MeasuredThing("length", item.cable, item.measured)
