"""`sigsim loss`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from sigsim.cli import options

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import State
    from sigsim.metrics import Basis


@click.command("loss")
@options.board_argument
@options.state_options
@options.basis_options
@click.option("--explain", is_flag=True, help="Add the hand check and what the columns mean.")
@options.json_option
@options.plot_option
@options.force_option
def command(
    board: Board,
    states: list[State],
    basis: Basis,
    explain: bool,
    as_json: bool,
    plot: str | None,
    force: bool,
) -> None:
    """How much top end the chain loses, state by state and at worst.

    Without a choice of states: every stage off, each scene of the file, and the worst of all
    states. A positive loss is taken away by the board, a negative one is added.
    """
    from sigsim.cli.drawing import save_plot
    from sigsim.decide.loss.report import loss_report
    from sigsim.show import loss as show
    from sigsim.show.render.terminal import print_document

    save = save_plot(plot, force)
    report = loss_report(board, states or board.named_states(), basis)
    if save is not None:
        from sigsim.decide.loss.curves import loss_curves
        from sigsim.show.plots.loss import drawing

        save(drawing(report, loss_curves(report)))
    if as_json:
        click.echo(show.as_json(report))
    else:
        print_document(show.document(report, with_worst=not states, explain=explain))
