"""`sigsim cables`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from sigsim.cli import options
from sigsim.cli.answers import Answer, answered
from sigsim.cli.ends import at_option
from sigsim.cli.progress import Progress
from sigsim.cli.said import listed
from sigsim.errors import QuantityError
from sigsim.units import parse

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.metrics import Basis

MOST_DB = 100.0


def _limit(ctx: click.Context, param: click.Parameter, value: str | None) -> float | None:
    if value is None:
        return None
    accepted = f"a loss in dB, 0 to {MOST_DB:g}, such as 3"
    try:
        found = parse(options.number_or_text(value), "gain").value
    except QuantityError as error:
        raise options.unfit("--limit", value, error.problem.what, accepted) from None
    if not 0 <= found <= MOST_DB:
        raise options.unfit("--limit", value, "this limit cannot be meant", accepted)
    return found


@click.command("cables")
@options.board_argument
@at_option
@click.option(
    "--only",
    multiple=True,
    metavar="A,B",
    help="Try only these cables, and the one now used. Repeatable.",
)
@click.option(
    "--limit",
    metavar="DB",
    callback=_limit,
    help="The longest each may be for at most this worst treble loss.",
)
@click.option("--scenes", is_flag=True, help="A full table for each scene as well.")
@options.every_option
@options.basis_options
@answered
def command(
    board: Board,
    only: tuple[str, ...],
    limit: float | None,
    scenes: bool,
    every: bool,
    basis: Basis,
) -> Answer:
    """Which cable to buy: every cable in every role, and how long each may be.

    A role is a name under [cables]: each cable of the parts library and of the file takes the
    place of all its pieces in turn, and the worst of all combinations is found anew. A role with
    the instrument's own lead is ranked by the loss that counts this lead too. What is bought for
    something else, as a patch cable for a lead, is listed but not advised, unless --only names it.
    Cables that lose the same within 0.1 dB, in every scene too, are one row.

    --limit scales all pieces of a role by one factor, until the worst treble loss over all
    combinations (as sigsim loss says it) reaches the limit; "any" means up to 100 m for the
    longest piece. The instrument's own lead stays as it is, because the loss is measured against
    it. A role that is nothing else varies, and its loss is counted against no cable at all. Where
    no length of any cable keeps the limit, the exit status is 1. Of a cable that has "sold" every
    piece is scaled and then taken in the next longer length that is sold.
    """
    from sigsim.board.cable_parts import library_cables
    from sigsim.decide.cables.candidates import candidates
    from sigsim.decide.cables.curves import cable_curves
    from sigsim.decide.cables.report import CableQuestion, cables_report, lengths_to_try
    from sigsim.show import cables as show

    tried = candidates(board, library_cables(board.library), _names(only, board))
    question = CableQuestion(board, basis, limit)
    progress = Progress(lengths_to_try(board, tried), "lengths")
    report = cables_report(question, tried, progress)
    progress.finish()
    return Answer(
        lambda: show.document(report, scenes=scenes, every=every),
        lambda: show.as_json(report),
        lambda: (report, cable_curves(report)),
    )


def _names(texts: tuple[str, ...], board: Board) -> list[str]:
    """Split `A,B` at commas; a cable of the file that holds commas may stand alone.

    Raises
    ------
    SigsimError : there is no name in what was given
    """
    names = []
    for text in texts:
        known = text in board.cables
        names += [text] if known else listed(text, "--only", "names of cables, A,B")
    return names
