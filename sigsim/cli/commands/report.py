"""`sigsim report`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from sigsim.cli import options
from sigsim.cli.ends import at_option
from sigsim.errors import shown_path

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.metrics import Basis


@click.command("report")
@options.board_argument
@at_option
@click.option(
    "-o",
    "--output",
    type=click.Path(),
    metavar="FILE",
    required=True,
    help="The page to write, an .html file.",
)
@click.option(
    "--compare",
    type=click.Path(),
    multiple=True,
    metavar="BOARD",
    help="Lay another board over it. Repeatable.",
)
@click.option(
    "--with",
    "parts",
    multiple=True,
    metavar="A,B",
    help="Add to the page: spread, noise, verify=RESULT.json (of verify --json).",
)
@click.option(
    "--only-scenes",
    is_flag=True,
    help="Scenes only, without switches, for a board too large for them.",
)
@options.basis_options
@options.force_option
def command(
    board: Board,
    output: str,
    compare: tuple[str, ...],
    parts: tuple[str, ...],
    only_scenes: bool,
    basis: Basis,
    force: bool,
) -> None:
    """One page to keep and to show: switch boxes in a browser and see the curve move.

    The file holds everything, loads nothing and opens without a network. Its numbers are those of
    sigsim loss. It also answers what buffer, cables and blame answer, and says where every figure
    came from. A file with variants gives a page that switches between them.
    """
    from sigsim.board.cable_parts import library_cables
    from sigsim.board.part_stage import powered_part
    from sigsim.cli.output import check_writable, checked_ending, write_file
    from sigsim.cli.report_parts import added, asked, compared
    from sigsim.cli.report_versions import choice, gathered, variants_of
    from sigsim.decide.limits import refuse_beyond
    from sigsim.decide.page.report import ReportQuestion
    from sigsim.show.loss import headline
    from sigsim.show.page.page import page
    from sigsim.show.page.versions import Shown

    target = check_writable(output, force)
    if target.suffix.lower() != ".htm":
        checked_ending(output, [".html"], "the page is an .html file", "-o")
    wanted = asked(parts)
    variants = variants_of(board)
    for part in wanted:
        for one in (board, *variants):
            refuse_beyond(one, part.name)
    verified = compared(wanted, board, variants)
    others = tuple(options.read_with_warnings(Path(name)) for name in compare)
    buffer = powered_part("buffer-opamp", "buffer")
    cables = library_cables(board.library)
    question = ReportQuestion(board, others, basis, buffer, cables, only_scenes)
    shown = [Shown(data, *added(data, wanted, verified)) for data in gathered(question, variants)]
    write_file(target, page(shown), force)
    answer = headline(shown[0].data.losses, with_worst=True)
    click.echo(f"{answer}\nWritten: {shown_path(output)}. Open it in a browser{choice(variants)}.")
