"""`sigsim demo`."""

from __future__ import annotations

from importlib.resources import as_file, files
from typing import TYPE_CHECKING

import click

from sigsim.cli import options
from sigsim.cli.measured_demo import measured_demo
from sigsim.cli.said import refuse_together
from sigsim.errors import shown_path

if TYPE_CHECKING:
    from sigsim.board.model import Board

SOUND = "sigsim-demo.wav"
PLOT = "sigsim-demo.png"


@click.command("demo")
@click.option(
    "--plot",
    metavar="FILE",
    help=f"The plot's name.  [default: {PLOT}; none with --listen, --measure]",
)
@click.option(
    "--listen", "sound", is_flag=True, help=f"Instead: {SOUND} and its reference, to hear it."
)
@click.option(
    "--measure",
    is_flag=True,
    help="Instead: recordings of an invented bench, and what can be measured in them.",
)
@options.force_option
def command(plot: str | None, sound: bool, measure: bool, force: bool) -> None:
    """Run the main job on a bundled board and draw its plot here.

    The board is invented. Its file is a good one to copy from; the last line says where it is.
    With --listen an invented bass phrase is written twice, as played straight in and as it sounds
    through the board with everything off. Turn down before you play them.

    With --measure a bench is invented: an audio interface, a cable, a bass and a built board. Its
    recordings are written here (50 MB) and measured; what was hidden stands beside what was found.
    """
    from sigsim.board.reader import read_board
    from sigsim.cli.drawing import save_plot
    from sigsim.decide.loss.report import loss_report
    from sigsim.show.loss import document
    from sigsim.show.render.terminal import print_document, show

    refuse_together({"--listen": sound, "--measure": measure}, "one of them")
    refuse_together({"--measure": measure, "--plot": plot is not None}, "one of them")
    if measure:
        measured_demo(force)
        return
    with as_file(files("sigsim.board") / "demo.toml") as path:
        board = read_board(path)
    if sound:
        _listen(board, plot, force)
        return
    plot = plot or PLOT
    save = save_plot(plot, force)
    report = loss_report(board, board.named_states())
    show(f"{board.title} (an invented board)", "")
    print_document(document(report, with_worst=True, explain=False))
    if save is not None:
        from sigsim.decide.loss.curves import loss_curves
        from sigsim.show.plots.loss import drawing

        save(drawing(report, loss_curves(report)))
    show(f"The plot is in {shown_path(plot)}. The board file, to copy from:")
    click.echo(shown_path(path))


def _listen(board: Board, plot: str | None, force: bool) -> None:
    """Write the invented phrase before and after the bundled board."""
    import tempfile
    from pathlib import Path

    from sigsim.audio.audition import file_names
    from sigsim.audio.files import open_recording, write_wav
    from sigsim.audio.phrase import RATE, phrase
    from sigsim.cli.drawing import save_plot
    from sigsim.cli.listening import Wish, listen
    from sigsim.show.listen import document
    from sigsim.show.render.terminal import print_document, show

    with tempfile.TemporaryDirectory() as folder:
        played = Path(folder) / "sigsim-demo-reference.wav"
        write_wav(played, phrase(), RATE)
        names = file_names(SOUND, pair=True, difference=False)
        save = save_plot(plot, force)
        wish = Wish(board, board.state(()))
        heard = listen(wish, open_recording(played), names, force, save)
    show(f"{board.title} (an invented board, an invented phrase)", "")
    print_document(document(heard))
