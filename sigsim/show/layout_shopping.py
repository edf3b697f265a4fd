"""What to buy for boards whose boxes stand somewhere."""

from __future__ import annotations

from collections import Counter
from pathlib import PurePath
from typing import TYPE_CHECKING, Final

from sigsim.quantities import length_text
from sigsim.show import kinds
from sigsim.show.document import Column, Table
from sigsim.show.layout_words import LENGTH
from sigsim.show.lengths import sum_of
from sigsim.show.render.text import listed, plain

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from sigsim.decide.layout.shopping import Pieces, Stock
    from sigsim.show.document import Block, Row

_MOST_CUT: Final = 4
_SHOPPING: Final = (
    Column("Cable", kinds.names(40, 80), key="cable", once=True),
    Column("Pieces", kinds.COUNT, key="count"),
    Column("Length", LENGTH, key="length_m"),
    Column("", kinds.PHRASE, key="remark"),
)


def shopping_blocks(bought: Sequence[Stock], *, boards: int = 1, rows: str = "") -> Iterator[Block]:
    """Yield the shopping list: ready-made lengths one by one, cut cable by its total.

    Parameters
    ----------
    bought : what to buy
    boards : for how many it is
    rows : words on the rows that it is for
    """
    names = Counter(stock.cable for stock in bought)
    files = {file for stock in bought for file in stock.boards}
    unlike = len({PurePath(file).name for file in files}) == len(files)
    found: list[Row] = []
    for stock in bought:
        mine = [PurePath(file).name if unlike else file for file in stock.boards]
        found += _bought(stock, mine if names[stock.cable] > 1 else [])
    if found:
        whose = "" if boards == 1 else f" for these {boards} boards"
        yield Table(f"To buy{whose}{rows}:", _SHOPPING, found)


def _bought(stock: Stock, boards: Sequence[str]) -> Iterator[Row]:
    """Yield the rows of one kind of cable, with boards where another one goes by its name."""
    pieces = stock.pieces
    name = plain(stock.cable, 40)
    if boards:
        name = f"{plain(stock.cable, 20)} of {listed(boards, mark='', most=2)}"
    if not stock.sold and pieces.counted:
        total = sum_of(pieces.counted)
        yield name, pieces.many, total, _cut(pieces)
    for length, number in pieces.counted if stock.sold else ():
        yield name, number, length, _instead(length, pieces)
    if stock.lacking:
        yield name, stock.lacking, None, "without a length"


def _cut(pieces: Pieces) -> str:
    """Say into what a length is cut."""
    each = [
        f"{number} × {length_text(length)}" if number > 1 else length_text(length)
        for length, number in pieces.counted
    ]
    if pieces.many == 1:
        return "cut to length"
    more = len(each) - _MOST_CUT
    return f"in all: {', '.join(each[:_MOST_CUT])}" + (f" and {more} more" if more > 0 else "")


def _instead(length: float, pieces: Pieces) -> str:
    if length in pieces.beyond:
        return "longer than all that are sold"
    wanted = [length_text(one) for one, stock in pieces.longer if stock == length]
    return f"also for {' and '.join(wanted)}" if wanted else ""
