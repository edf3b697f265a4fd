"""`sigsim layout`."""

from __future__ import annotations

from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING

import click

from sigsim.cli import options
from sigsim.cli.answers import Answer, answered
from sigsim.cli.changing import change_options
from sigsim.cli.ranges import Range
from sigsim.cli.said import refuse_idle
from sigsim.cli.several import refuse_twice
from sigsim.errors import SigsimError, shown_path

if TYPE_CHECKING:
    from collections.abc import Callable

    from sigsim.board.model import Board
    from sigsim.decide.layout.proposal import Proposal
    from sigsim.decide.layout.report import LayoutReport


def _boards(ctx: click.Context, param: click.Parameter, paths: tuple[str, ...]) -> list[Board]:
    """Read all boards; one file twice is refused before anything is read."""
    refuse_twice(paths, "its cables would be bought twice")
    return [options.read_with_warnings(Path(path), lacking=True) for path in paths]


@click.command("layout")
@click.argument(
    "boards", metavar="BOARD…", nargs=-1, required=True, callback=_boards, type=click.Path()
)
@change_options
@click.option("--try", "trying", is_flag=True, help="Look for rows with shorter runs.")
@options.setting(
    "--seconds",
    type=Range(0, options.LONGEST_S),
    default=10.0,
    metavar="S",
    help="How long to look for them; then the best found.",
)
@answered
def command(boards: list[Board], trying: bool, seconds: float) -> Answer:
    """Where things stand: every run, the length to take, what to buy, a drawing from above.

    From the [layout] of the file: each cable with its run from jack to jack, slack included, the
    next longer length in which it is sold, and what is left over. What overlaps, hangs over the
    edge, is too short or has no way is named. Several boards have one shopping list. Where the
    layout cannot give a length, the exit status is 1.

    --try looks for rows with a shorter sum of runs; the order of the signal stays. Ctrl-C ends
    that search and prints what it found so far. --plot draws the boards from above, to scale.
    """
    from sigsim import stopping
    from sigsim.decide.layout.report import layout_report
    from sigsim.decide.layout.shopping import shopping
    from sigsim.show import layout as show
    from sigsim.show.layout_json import as_json as json_of

    refuse_idle("seconds", "--try", has_needed=trying)
    for board in boards:
        _refuse_without(board, trying)
    reports = [layout_report(board) for board in boards]
    tried = [_tried(report, seconds) for report in reports] if trying else []
    bought = shopping(reports)
    better = [one.better or one.now for one in tried]
    then = shopping(better) if any(one.better for one in tried) else ()
    stopped = any(one.stopped for one in tried)
    lacks = any(report.lacking for report in reports)
    return Answer(
        lambda: show.document(reports, bought, tried, then),
        lambda: json_of(reports, bought, tried, then),
        None if stopped else lambda: (reports, tried),
        status=stopping.status() if stopped else int(lacks),
    )


def _refuse_without(board: Board, trying: bool) -> None:
    """Refuse a board that says nowhere where its boxes stand.

    Raises
    ------
    SigsimError : it has no layout, or none of its own whose rows could be tried
    """
    if board.laying is not None or (board.has_layout and not trying):
        return
    inside = ", only a board inside it has one" if board.has_layout else ""
    raise SigsimError(
        f"this file does not say where its boxes stand: it has no [layout]{inside}",
        where=shown_path(board.file),
        accepted='[layout] with size = ["60 cm", "32 cm"] and rows = [["echo", "drive"]], the back '
        "row first, each from left to right; each box with its width and depth",
    )


def _tried(report: LayoutReport, seconds: float) -> Proposal:
    """Look for rows with shorter runs; it says how long it has been looking."""
    from sigsim import stopping
    from sigsim.cli.progress import Latest
    from sigsim.decide.layout.proposal import proposal

    latest = Latest()
    try:
        with stopping.patient():
            return proposal(report, seconds, _watched(latest), stopping.was_noted)
    finally:
        latest.finish()


def _watched(latest: Callable[[Callable[[], str]], None]) -> Callable[[], bool]:
    """Return what a search asks whether to end: it says now and then that it is still looking."""
    from sigsim import stopping

    begun = monotonic()

    def stop() -> bool:
        latest(lambda: f"{monotonic() - begun:.0f} s: looking for shorter runs")
        return stopping.was_noted()

    return stop
