"""What to buy for one board or several: ready-made lengths, and cable that is cut."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from sigsim.board.inside import board_of_cable
from sigsim.layout.sold import taken

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from sigsim.board.model import Board
    from sigsim.decide.layout.report import LayoutReport
    from sigsim.items.cable import CableSpec


@dataclass(frozen=True)
class Pieces:
    """The pieces of one kind of cable as they are bought.

    Attributes
    ----------
    counted : length [m] and how many, shortest first
    longer : lengths in which it is not sold, with the next longer one that is bought for each [m]
    beyond : lengths that are longer than all in which it is sold [m]; they are among `counted`
    """

    counted: tuple[tuple[float, int], ...]
    longer: tuple[tuple[float, float], ...] = ()
    beyond: tuple[float, ...] = ()

    @property
    def many(self) -> int:
        """How many there are."""
        return sum(number for _, number in self.counted)


NOTHING: Final = Pieces(())


def bought(lengths: Iterable[float], sold: Sequence[float]) -> Pieces:
    """Return pieces as they are bought: each as the next longer of the lengths that are sold.

    Parameters
    ----------
    lengths : of all pieces [m]
    sold : ready-made lengths [m], shortest first; none for a cable that is cut to length
    """
    found: Counter[float] = Counter()
    longer: dict[float, float] = {}
    beyond: dict[float, None] = {}
    for length in lengths:
        stock = taken(length, sold)
        if stock is None:
            beyond[length] = None
        elif stock != length:
            longer[length] = stock
        found[length if stock is None else stock] += 1
    return Pieces(
        tuple(sorted(found.items())), tuple(sorted(longer.items())), tuple(sorted(beyond))
    )


@dataclass
class Stock:
    """One kind of cable to buy, for all boards that use it.

    Attributes
    ----------
    cable : its name in the file that uses it
    spec : its figures
    boards : whose pieces these are
    lengths : of all pieces that have one [m]
    lacking : how many have none
    """

    cable: str
    spec: CableSpec
    boards: list[str] = field(default_factory=list)
    lengths: list[float] = field(default_factory=list)
    lacking: int = 0

    @property
    def sold(self) -> tuple[float, ...]:
        """The ready-made lengths [m], empty for a cable that is cut to length."""
        return tuple(self.spec.sold)

    @property
    def pieces(self) -> Pieces:
        """The pieces as they are bought."""
        return bought(self.lengths, self.sold)

    def is_for(self, cable: str, spec: CableSpec) -> bool:
        """Whether a piece of a board is bought as this."""
        return self.cable == cable and self.spec == spec and self.spec.sold == spec.sold


def shopping(reports: Iterable[LayoutReport]) -> tuple[Stock, ...]:
    """Return what to buy for some boards together, in the order of their chains.

    What goes by one name in two files, with the same figures and sold alike, is one thing to buy.

    Parameters
    ----------
    reports : of the boards
    """
    found: list[Stock] = []
    for report in reports:
        for run in report.runs:
            name, file = _own_name(report.board, run.link.cable.cable)
            spec = run.link.cable.spec
            stock = next((one for one in found if one.is_for(name, spec)), None)
            if stock is None:
                stock = Stock(name, spec)
                found.append(stock)
            if file not in stock.boards:
                stock.boards.append(file)
            if run.length is None:
                stock.lacking += 1
            else:
                stock.lengths.append(run.length)
    return tuple(found)


def _own_name(board: Board, cable: str) -> tuple[str, str]:
    """Return what a cable is called in the file that has it, and that file."""
    held = board_of_cable(board, cable)
    return (cable, board.file) if held is None else (cable.removeprefix(held.cables), held.file)
