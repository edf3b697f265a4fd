"""What sees the pickup in no order, why, and what lets it: in words and as JSON values."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from sigsim.show.cures import remedy_words
from sigsim.show.document import Paragraph
from sigsim.show.order_words import contradiction_words, demand_values, written_words
from sigsim.show.render.text import listed, plain

if TYPE_CHECKING:
    from sigsim.decide.order.report import OrderReport
    from sigsim.decide.order.rules import Stuck


def stuck_blocks(report: OrderReport) -> Iterator[Paragraph]:
    """Yield of each stage that sees the pickup in no order what stands in its way, and a cure."""
    for stuck in report.stuck:
        yield Paragraph((" ".join(_sentences(report, stuck)),), apart=True)


def _sentences(report: OrderReport, stuck: Stuck) -> Iterator[str]:
    verb = "stands" if len(stuck.between) == 1 else "stand"
    yield (
        f"'{plain(stuck.stage, 30)}' sees the pickup in no order: {listed(stuck.between, most=5)} "
        f"{verb} in its way."
    )
    if stuck.because and stuck.because != report.contradiction:
        yield f"What keeps it so: {contradiction_words(report.question, stuck.because)}."
    if stuck.dropping:
        without = " or ".join(written_words(one) for one in stuck.dropping)
        yield f"Without {without} there is an order in which it does."
    if stuck.remedy is not None:
        yield remedy_words(stuck.remedy)


def stuck_values(report: OrderReport) -> list[dict[str, Any]]:
    """Return the same as plain JSON values."""
    return [
        {
            "stage": stuck.stage,
            "between": list(stuck.between),
            "because": [demand_values(one) for one in stuck.because],
            "without_one_of": [demand_values(one) for one in stuck.dropping],
            "cure": None if stuck.remedy is None else remedy_words(stuck.remedy),
        }
        for stuck in report.stuck
    ]
