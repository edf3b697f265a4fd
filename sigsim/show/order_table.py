"""The table of orders, and what it says of boxes that stay where they stand."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Final

from sigsim.metrics import verdict
from sigsim.show import kinds
from sigsim.show.document import Column, Table
from sigsim.show.kinds import BLANK
from sigsim.show.order_words import arrows
from sigsim.show.render.text import decibel

if TYPE_CHECKING:
    from sigsim.decide.order.report import OrderReport, Proposed
    from sigsim.show.document import Cell, Row

_NUMBER: Final = Column("", kinds.COUNT)
_LOSS: Final = Column("Loss", kinds.LOSS, "Treble loss (dB)", rank=0)
_CHANGE: Final = Column("Change", kinds.CHANGE)
_WORD: Final = Column(" ", kinds.WORD, "In a word")
_CUSTOM: Final = Column("Custom", kinds.COUNT, "Pairs against the custom")
_NOISE: Final = Column("Noise", kinds.CHANGE)
_LAID_OUT: Final = Column("Laid out", kinds.LOSS, "Loss with the boxes where they stand (dB)")


def orders_table(report: OrderReport, caption: str, rows: Sequence[tuple[Proposed, str]]) -> Table:
    """Return a table of orders, and under them the file's.

    Parameters
    ----------
    report : from `order_report`, of a search that found something
    caption : of the table
    rows : the orders, each with what it is called
    """
    found = report.found
    assert found is not None, "there are orders"
    roles, laid = report.has_custom, report.has_layout
    hiss = math.isfinite(report.noise) and any(one.noise for one, _ in rows)
    columns = [_NUMBER, Column("Order", kinds.PHRASE), _LOSS, _CHANGE, _WORD]
    columns += [_LAID_OUT] * laid + [_CUSTOM] * roles + [_NOISE] * hiss
    made: list[Row] = []
    for one, name in rows:
        own = one.ordered
        extra: list[Cell] = [_loss(one.laid_out)] * laid
        extra += [own.custom] * roles + [one.noise] * hiss
        made.append(
            (one.number, name, own.loss, own.loss - found.now.loss, verdict(own.loss), *extra)
        )
    extra = [_loss(report.laid_out)] * laid + [found.now.custom] * roles + [BLANK] * hiss
    made.append((BLANK, "as it is", found.now.loss, BLANK, verdict(found.now.loss), *extra))
    return Table(caption, columns, made, captioned=False)


def _loss(loss: float | None) -> Cell:
    return BLANK if loss is None else loss


def ranking_table(report: OrderReport) -> Table:
    """Return the first orders of the ranking."""
    rows = [(one, arrows(one.names)) for one in report.ranking]
    return orders_table(report, f"The first {len(rows)} by the ranking:", rows)


def laid_out_words(report: OrderReport) -> Iterator[str]:
    """Yield what the column of the boxes where they stand means, where there is a layout."""
    if not report.has_layout or report.found is None:
        return
    now = "" if report.laid_out is None else f", {decibel(report.laid_out)} dB as it is"
    yield (
        "While boxes change places, each cable between two of them that has its length from the "
        "layout is as long as all these are now in the mean. Laid out: what is lost with the boxes "
        f"where they stand{now}."
    )
    if any(one.laid_out is None for one in report.proposed if one.told):
        yield "Where that is empty, the layout cannot give all lengths."
