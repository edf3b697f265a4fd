"""What to buy for a board: the pieces of each kind of cable, and their plugs."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sigsim.board.inside import board_of_cable
from sigsim.decide.layout.shopping import NOTHING, Pieces, bought
from sigsim.physics.arrays import scalar

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sigsim.board.model import Board
    from sigsim.items.cable import CableSpec


@dataclass(frozen=True)
class Purchase:
    """What to buy of one cable.

    Attributes
    ----------
    cable : its name under `[cables]`
    spec : its figures
    pieces : length [m] and how many, shortest first
    plugs : how many
    spare : share of the length to add, 0.1 for 10 %
    board : the file of the board inside whose cable it is, empty for the board's own
    bought : the pieces in the lengths in which it is sold; as they are where it is cut
    """

    cable: str
    spec: CableSpec
    pieces: tuple[tuple[float, int], ...]
    plugs: int
    spare: float
    board: str = ""
    bought: Pieces = NOTHING

    @property
    def part(self) -> str:
        """The part its figures came from, empty for none."""
        return self.spec.part

    @property
    def total(self) -> float:
        """The length of all pieces [m]."""
        return sum(length * count for length, count in self.pieces)

    @property
    def with_spare(self) -> float:
        """The length to buy [m]; ready-made cables need no length to spare."""
        if self.spec.sold:
            return sum(length * count for length, count in self.bought.counted)
        return self.total * (1 + self.spare)


def purchases(board: Board, spare: float) -> Iterator[Purchase]:
    """Yield what to buy of each cable that is laid, in the order of the chain.

    Parameters
    ----------
    board : the board
    spare : share of the length to add, 0.1 for 10 %
    """
    for name in dict.fromkeys(piece.cable for piece in board.pieces()):
        mine = list(board.pieces(name))
        pieces = Counter(scalar(piece.length) for piece in mine)
        held = board_of_cable(board, name)
        file, plugs = "" if held is None else held.file, 2 * len(mine)
        spec = mine[0].spec
        stock = bought((scalar(piece.length) for piece in mine), spec.sold)
        yield Purchase(name, spec, tuple(sorted(pieces.items())), plugs, spare, file, stock)
