"""What feeds a board, beside other answers: or that it cannot be told, and why."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sigsim.decide.power.report import PowerUntold
from sigsim.show import power, power_json
from sigsim.show.document import Document, Paragraph

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sigsim.decide.power.report import PowerReport
    from sigsim.show.document import Block


def beside_blocks(report: PowerReport | PowerUntold, *, paper: bool = False) -> Iterator[Block]:
    """Yield what feeds a board, or in a line why that cannot be told; `paper` as for `blocks`."""
    if isinstance(report, PowerUntold):
        yield Paragraph((f"What feeds it cannot be told: {report.why}.",))
    else:
        yield from power.blocks(report, paper=paper)


def beside_document(report: PowerReport | PowerUntold) -> Document:
    """Return what feeds a board as a section of its own."""
    if isinstance(report, PowerUntold):
        return Document(power.TITLE, tuple(beside_blocks(report)))
    return power.document(report)


def beside_values(report: PowerReport | PowerUntold | None) -> dict[str, Any] | None:
    """Return the same as plain JSON values, None without supplies."""
    if isinstance(report, PowerUntold):
        return {"cannot_be_told": report.why}
    return None if report is None else power_json.power_values(report)
