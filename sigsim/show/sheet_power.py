"""What feeds a board, on its wiring sheet."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sigsim.show.document import Heading
from sigsim.show.power_beside import beside_blocks

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sigsim.decide.power.report import PowerReport, PowerUntold
    from sigsim.show.document import Block


def power_blocks(report: PowerReport | PowerUntold | None) -> Iterator[Block]:
    """Yield what feeds a board under a heading of its own, nothing where the file has no supplies.

    Parameters
    ----------
    report : None without supplies
    """
    if report is not None:
        yield Heading("What feeds it")
        yield from beside_blocks(report, paper=True)
