"""Where things stand, on the wiring sheet: the drawing, and the runs beside its connections."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sigsim.show.document import FromAbove, Paragraph, Table
from sigsim.show.layout import RUNS, run_row
from sigsim.show.layout_json import run_values
from sigsim.show.layout_problems import problems
from sigsim.show.render.text import plain

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sigsim.decide.layout.report import LayoutReport
    from sigsim.show.document import Block


def drawings(laid: LayoutReport | None) -> Iterator[Block]:
    """Yield a drawing for each layout, none without one.

    Parameters
    ----------
    laid : where the boxes stand, None where no layout says so
    """
    for standing in () if laid is None else laid.standing:
        inside = f" in '{plain(standing.loop, 30)}', {plain(standing.file, 40)}," * bool(
            standing.file
        )
        yield FromAbove(standing, f"The board{inside} from above")


def run_blocks(laid: LayoutReport | None) -> Iterator[Block]:
    """Yield the runs and what is wrong with them, nothing without a layout.

    Parameters
    ----------
    laid : where the boxes stand, None where no layout says so
    """
    if laid is not None:
        yield Table("Runs from jack to jack, with the slack", RUNS, [run_row(r) for r in laid.runs])
        by_layout = [str(run.link.number) for run in laid.runs if not run.link.from_file]
        if by_layout:
            text = f"The layout says how long these are: {', '.join(by_layout)}."
            yield Paragraph((text,), apart=True)
        yield from problems(laid)


def laid_values(laid: LayoutReport | None) -> list[dict[str, Any]] | None:
    """Return the runs as plain JSON values, None without a layout."""
    return None if laid is None else run_values(laid)
