"""`sigsim order`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from sigsim.cli import options
from sigsim.cli.answers import Answer, answered
from sigsim.cli.ends import at_option
from sigsim.cli.ranges import Range
from sigsim.cli.said import refuse_idle
from sigsim.cli.weights import scene_weights

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.decide.order.report import OrderReport
    from sigsim.items.stage import ActiveStage

MOST_TOP = 1000


@click.command("order")
@options.board_argument
@at_option
@click.option("--scenes", is_flag=True, help="Rank by the scenes instead of the worst combination.")
@click.option(
    "--weight",
    multiple=True,
    metavar="SCENE=N",
    help="Rank by the mean of the scenes named so, each counting so much; with --scenes the others "
    "count 1. Repeatable.",
)
@click.option("--level", metavar="LOOP", help="Order what is inside this loop.")
@click.option("--buffer", is_flag=True, help="Place a buffer at the same time.")
@options.setting(
    "--part", default="buffer-opamp", metavar="NAME", help="That buffer, a part of the library."
)
@options.setting(
    "--top", type=click.IntRange(1, MOST_TOP), default=1, help="How many orders to list."
)
@options.setting(
    "--seconds",
    type=Range(0, options.LONGEST_S),
    default=20.0,
    metavar="S",
    help="How long to look; then the best found, and what no order is under.",
)
@click.option(
    "--write",
    type=click.Path(),
    metavar="FILE",
    help="Write the board in the best order; nothing where none is worth it.",
)
@click.option(
    "--pick",
    type=click.IntRange(min=1),
    metavar="N",
    help="Write the order with this number instead.",
)
@answered
def command(
    board: Board,
    scenes: bool,
    weight: tuple[str, ...],
    level: str | None,
    buffer: bool,
    part: str,
    top: int,
    seconds: float,
    write: str | None,
    pick: int | None,
    force: bool,
) -> Answer:
    """In which order the pedals lose least, under what you ask of an order.

    Ranks the orders of the pedals and loops by the worst treble loss of all combinations. Cables
    that the file names stay where they are. What an order has to obey is written at the pedals:
    needs_pickup, before, after, fixed. Orders within 0.1 dB of the lowest, and all up to 0.5 dB,
    count as equal; of these the one that goes best with the custom, then the one nearest to the
    file's. Ctrl-C ends the search and prints what it found so far.
    """
    from sigsim.cli.beside import check_beside
    from sigsim.cli.options import board_text
    from sigsim.cli.ordered import check_pick, interrupted, search_for, write_ordered
    from sigsim.cli.output import check_writable
    from sigsim.decide.buffer.views import ALL_STATES, scene_views
    from sigsim.decide.limits import refuse_beyond
    from sigsim.decide.order.report import order_report
    from sigsim.decide.order.rules import level_of, question
    from sigsim.show import order as show
    from sigsim.show.order_json import as_json as json_of

    refuse_idle("part", "--buffer", has_needed=buffer)
    check_pick(pick, write)
    source = ""
    if write is not None:
        check_writable(write, force, onto_input=True)
        check_beside(board, write)
        source = board_text()
    refuse_beyond(board, "order")
    weights = scene_weights(board, weight)
    others = 1.0 if scenes else 0.0
    views = scene_views(board, weights, others) if scenes or weights else (ALL_STATES,)
    if weights and not scenes:
        views = tuple(view for view in views if view.name in weights)
    asked = question(
        board,
        () if level is None else level_of(board, level),
        views,
        mean=bool(weights),
        buffer=_buffer(board, part) if buffer else None,
    )
    report = order_report(asked, search_for(asked, top, seconds), interrupted)
    written = None if write is None else write_ordered(report, source, write, pick, force)
    return Answer(
        lambda: show.document(report, top=top),
        lambda: json_of(report, None if written is None else written.values),
        None if report.interrupted else lambda: (report,),
        "" if written is None else written.said,
        status=_status(report),
    )


def _buffer(board: Board, part: str) -> ActiveStage:
    """Return the part as a stage with a name of its own on the board."""
    from sigsim.board.edit import free_name
    from sigsim.board.part_stage import powered_part

    return powered_part(part, free_name(board, "buffer"), where="--part", library=board.library)


def _status(report: OrderReport) -> int:
    from sigsim import stopping

    if report.interrupted:
        return stopping.status()
    return 1 if report.contradiction or report.without_place else 0
