"""Ready-made cables on the wiring sheet: how many of each length in which they are sold."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sigsim.quantities import length_text
from sigsim.show.document import Total
from sigsim.show.kinds import BLANK, Named, Unsaid
from sigsim.show.lengths import sum_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sigsim.decide.purchases import Purchase
    from sigsim.show.document import Cell, Row


def ready_made(p: Purchase, last: tuple[Cell, ...], after: str) -> Iterator[Row]:
    """Yield the rows of a cable that is bought ready-made; it needs no length to spare.

    Parameters
    ----------
    p : the cable
    last : the cells behind those of its lengths
    after : what stands behind its name in the row of sums
    """
    for length, pieces in p.bought.counted:
        total = length if pieces == 1 else sum_of([(length, pieces)])
        yield p.cable, p.part, pieces, length, total, BLANK, Unsaid(total), *last
    total, many = sum_of(p.bought.counted), p.bought.many
    name = Named(p.cable, after=after)
    yield Total((name, p.part, many, BLANK, total, p.plugs, total, *last))


def sold_words(p: Purchase) -> str:
    """Return in which lengths a cable is sold, what is bought for others; empty if it is cut."""
    if not p.spec.sold:
        return ""
    said = f"sold as {', '.join(map(length_text, p.spec.sold))}"
    for wanted, stock in p.bought.longer:
        said += f"; for {length_text(wanted)} one of {length_text(stock)}"
    for wanted in p.bought.beyond:
        said += f"; {length_text(wanted)} is longer than all of these"
    return said


def bought_values(p: Purchase) -> dict[str, Any]:
    """Return the lengths in which a cable is sold and bought as plain JSON values."""
    return {
        "sold_m": list(map(float, p.spec.sold)),
        "bought": [
            {"length_m": float(length), "count": number} for length, number in p.bought.counted
        ],
    }
