"""`sigsim sheet`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from sigsim.cli import options
from sigsim.errors import OutputError, SigsimError, nearest, quote

if TYPE_CHECKING:
    from sigsim.board.model import Board

_MOST_SPARE = 500.0


def _percent(ctx: click.Context, param: click.Parameter, value: str) -> float:
    """Return a percentage, with or without its sign, as a share."""
    try:
        percent = float(value.removesuffix("%"))
    except ValueError:
        percent = -1.0
    if not 0 <= percent <= _MOST_SPARE:
        raise SigsimError(
            "the spare length is a percentage",
            where="--spare",
            found=quote(value),
            accepted=f"0 to {_MOST_SPARE:g}",
        )
    return percent / 100


@click.command("sheet")
@options.board_argument
@click.option(
    "-o", "--output", type=click.Path(), metavar="FILE", help="Write the sheet: .html .md .csv."
)
@click.option(
    "--spare",
    default="10",
    show_default=True,
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
    from sigsim.cli.output import check_writable, write_file
    from sigsim.decide.sheet import sheet
    from sigsim.show import sheet as show
    from sigsim.show.render.files import FORMATS
    from sigsim.show.render.terminal import print_document

    kind = "" if output is None else check_writable(output, force).suffix.lower()
    if output is not None and kind not in FORMATS:
        raise OutputError(
            "a sheet's file name says its format",
            where="-o",
            found=quote(str(output)),
            accepted=" ".join(FORMATS),
            nearest=nearest(kind, FORMATS) if kind else None,
        )
    made = sheet(board, spare)
    if output is not None:
        write_file(output, FORMATS[kind](show.document(made)), force)
    if as_json:
        click.echo(show.as_json(made))
    elif output is None:
        print_document(show.document(made))
    else:
        click.echo(f"{show.sentence(made)}\nWritten: {output}")
