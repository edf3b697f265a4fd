"""`sigsim loss`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from sigsim.cli import options
from sigsim.cli.answers import Answer, answered
from sigsim.cli.ends import at_option

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import State
    from sigsim.metrics import Basis


@click.command("loss")
@options.board_argument
@at_option
@options.state_options
@options.basis_options
@click.option("--explain", is_flag=True, help="Add the hand check and what the columns mean.")
@options.every_option
@options.seconds_option
@answered
def command(
    board: Board,
    states: list[State],
    basis: Basis,
    explain: bool,
    every: bool,
    seconds: float,
) -> Answer:
    """How much top end the chain loses, combination by combination and at worst.

    Without a choice: all off, each scene of the file, and the worst of all combinations. A
    positive loss is taken away by the board, a negative one is added. Combinations that are the
    same, because nothing that differs is heard, are one row; JSON has each.
    """
    from sigsim.decide.loss.curves import loss_curves
    from sigsim.decide.loss.report import loss_report
    from sigsim.show import loss as show

    report = loss_report(board, states or board.named_states(), basis, seconds)
    return Answer(
        lambda: show.document(report, with_worst=not states, explain=explain, every=every),
        lambda: show.as_json(report),
        lambda: (report, loss_curves(report, with_worst=not states), not states),
    )
