"""`sigsim power`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from sigsim.cli import options
from sigsim.cli.answers import say

if TYPE_CHECKING:
    from sigsim.board.model import Board


@click.command("power")
@options.board_as_laid_argument
@click.option(
    "--guess",
    is_flag=True,
    help="Reckon with what such a box usually draws where no current is told.",
)
@options.json_option
def command(board: Board, guess: bool, as_json: bool) -> int:
    """What feeds the board: which pedal on which output, what is left, hours on a battery.

    Supplies and what pedals draw stand in the board file. Most pedals are fed; then the fewest
    share an output; then the least that is left on an output is as much as it can be. What is not
    fed is said with the reason, and ends with status 1.
    """
    from sigsim.decide.power.report import power_report
    from sigsim.show import power as show
    from sigsim.show.power_json import as_json as json_of

    report = power_report(board, guess=guess)
    say(as_json, lambda: json_of(report), lambda: show.document(report))
    return 1 if report.missing else 0
