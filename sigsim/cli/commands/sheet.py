"""`sigsim sheet`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from sigsim.cli import options
from sigsim.cli.streams import echo_json
from sigsim.errors import shown_path

if TYPE_CHECKING:
    from sigsim.board.model import Board

_MOST_SPARE = 500.0


def _percent(ctx: click.Context, param: click.Parameter, value: str) -> float:
    """Return a percentage, with or without its sign, as a share."""
    percent = options.number(value.removesuffix("%"))
    if not 0 <= percent <= _MOST_SPARE:
        what = "the spare length is a percentage"
        raise options.unfit("--spare", value, what, f"0 to {_MOST_SPARE:g}")
    return percent / 100


@click.command("sheet")
@options.board_argument
@click.option(
    "-o", "--output", type=click.Path(), metavar="FILE", help="Write the sheet: .html .md .csv."
)
@options.setting(
    "--spare",
    default="10",
    metavar="PERCENT",
    callback=_percent,
    help="How much more cable to buy than is laid.",
)
@options.json_option
@options.force_option
def command(board: Board, output: str | None, spare: float, as_json: bool, force: bool) -> None:
    """The wiring sheet: connections, what to cut and buy, the switches of each scene.

    Without -o it is printed here. An .html file prints well on A4, with space for date and notes.
    """
    from sigsim.cli.output import check_writable, checked_ending, write_file
    from sigsim.decide.layout.report import laid_out
    from sigsim.decide.sheet import sheet
    from sigsim.show import sheet as show
    from sigsim.show.render.files import FORMATS
    from sigsim.show.render.terminal import print_document

    kind = ""
    if output is not None:
        check_writable(output, force)
        kind = checked_ending(output, FORMATS, "a sheet's file name says its format", "-o")
    made = sheet(board, spare)
    laid = laid_out(board) if board.has_layout else None
    if output is not None:
        write_file(output, FORMATS[kind](show.document(made, laid)), force)
    if as_json:
        echo_json(show.as_json(made, laid))
    elif output is None:
        print_document(show.document(made, laid))
    else:
        click.echo(f"{show.sentence(made)}\nWritten: {shown_path(output)}")
