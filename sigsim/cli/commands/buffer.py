"""`sigsim buffer`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from sigsim.cli import options
from sigsim.cli.answers import Answer, answered
from sigsim.cli.ends import at_option
from sigsim.errors import UnknownNameError

if TYPE_CHECKING:
    from sigsim.board.model import Board


@click.command("buffer")
@options.board_argument
@at_option
@options.setting("--count", type=click.IntRange(1, 3), default=1, help="How many buffers.")
@options.setting(
    "--part", default="buffer-opamp", metavar="NAME", help="The buffer, a part of the library."
)
@click.option("--scenes", is_flag=True, help="Rank by the scenes instead of the worst combination.")
@click.option(
    "--weight",
    multiple=True,
    metavar="SCENE=N",
    help="How much a scene counts; implies --scenes. Repeatable.",
)
@click.option(
    "--ignore-needs-pickup", is_flag=True, help="Also before pedals that want to see the pickup."
)
@options.setting("--top", type=click.IntRange(1), default=10, help="How many places to list.")
@click.option(
    "--every", is_flag=True, help="List every place: no rows folded, those that gain nothing too."
)
@click.option(
    "--write",
    type=click.Path(),
    metavar="FILE",
    help="Write the board with the advised buffers in it; nothing where none helps.",
)
@click.option(
    "--place",
    type=click.IntRange(min=1),
    metavar="N",
    help="Write the place with this number of the table instead.",
)
@answered
def command(
    board: Board,
    count: int,
    part: str,
    scenes: bool,
    weight: tuple[str, ...],
    ignore_needs_pickup: bool,
    top: int,
    every: bool,
    write: str | None,
    place: int | None,
    force: bool,
    as_json: bool,
) -> Answer:
    """Where one buffer, or two or three, cuts the treble loss most.

    Tries every gap of the chain for the smallest worst treble loss of all combinations. The buffer
    stays on. Places inside loops, and on other ways of a split, are a list of their own, for one
    buffer: it is gone when its loop is out. The instrument's own lead stays with the instrument.
    Places that gain less than 0.1 dB are not proposed.
    """
    from sigsim.board.part_stage import powered_part
    from sigsim.cli.beside import check_beside
    from sigsim.cli.buffered import check_place, write_buffered
    from sigsim.cli.options import board_text
    from sigsim.cli.output import check_writable
    from sigsim.decide.buffer.instead import instead_of_buffer
    from sigsim.decide.buffer.noise import buffer_noise
    from sigsim.decide.buffer.report import buffer_report
    from sigsim.decide.buffer.views import ALL_STATES, scene_views
    from sigsim.decide.cures import remedies
    from sigsim.show import buffer as show
    from sigsim.show.buffer_json import as_json as json_of

    check_place(place, write)
    if write is not None:
        check_writable(write, force, onto_input=True)
        check_beside(board, write)
        source = board_text()
    weights = _weights(board, weight)
    views = scene_views(board, weights) if scenes or weights else (ALL_STATES,)
    stage = powered_part(part, "buffer", where="--part", library=board.library)
    whole = every or place is not None or as_json
    report = buffer_report(
        board, stage, count, views, ignore_pickup=ignore_needs_pickup, every=whole
    )
    instead = instead_of_buffer(board, views, ignore_pickup=ignore_needs_pickup)
    cures = remedies(board, views)
    written = None if write is None else write_buffered(report, source, write, place, force)
    return Answer(
        lambda: show.document(
            report,
            instead,
            buffer_noise(report, show.shown(report, top, every)),
            cures,
            most=top,
            every=every,
            hint="--every lists all places.",
        ),
        lambda: json_of(
            report,
            instead,
            buffer_noise(report, report.placements[:top]),
            cures,
            None if written is None else written.values,
        ),
        lambda: (report,),
        "" if written is None else written.said,
    )


def _weights(board: Board, given: tuple[str, ...]) -> dict[str, float]:
    weights = {}
    for text in given:
        name, equals, number = text.rpartition("=")
        if not equals:
            what = "a weight is a scene's name and a number"
            raise options.unfit("--weight", text, what, f"{text}=3")
        if name not in board.scenes:
            raise UnknownNameError("scene", name or text, tuple(board.scenes), where="--weight")
        weights[name] = options.number(number)
        if not 0 <= weights[name] < 1e6:
            what = "a weight is a number from 0"
            raise options.unfit("--weight", text, what, f"{name}=3")
    return weights
