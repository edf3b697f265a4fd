"""`sigsim demo`."""

from __future__ import annotations

from importlib.resources import as_file, files

import click

from sigsim.cli import options


@click.command("demo")
@click.option(
    "--plot", default="sigsim-demo.png", show_default=True, metavar="FILE", help="The plot's name."
)
@options.force_option
def command(plot: str, force: bool) -> None:
    """Run the main job on a bundled board and draw its plot here.

    The board is invented. Its file is a good one to copy from; the last line says where it is.
    """
    from sigsim.board.reader import read_board
    from sigsim.cli.commands.loss import draw
    from sigsim.cli.drawing import save_plot
    from sigsim.decide.loss import loss_report
    from sigsim.show.loss import print_report
    from sigsim.show.text import show

    save = save_plot(plot, force)
    with as_file(files("sigsim.board") / "demo.toml") as path:
        board = read_board(path)
    report = loss_report(board, options.default_states(board))
    show(f"{board.title} (an invented board)", "")
    print_report(report, with_worst=True, explain=False)
    if save is not None:
        save(lambda figure: draw(figure, report))
    show(f"The plot is in {plot}. The board file, to copy from:")
    click.echo(str(path))
