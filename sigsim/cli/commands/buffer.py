"""`sigsim buffer`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from sigsim.cli import options
from sigsim.cli.answers import Answer, answered
from sigsim.errors import UnknownNameError, shown_path

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.decide.buffer.report import BufferReport


@click.command("buffer")
@options.board_argument
@options.setting("--count", type=click.IntRange(1, 3), default=1, help="How many buffers.")
@options.setting(
    "--part", default="buffer-opamp", metavar="NAME", help="The buffer, a part of the library."
)
@click.option("--scenes", is_flag=True, help="Rank by the scenes instead of the worst state.")
@click.option(
    "--weight",
    multiple=True,
    metavar="SCENE=N",
    help="How much a scene counts; implies --scenes. Repeatable.",
)
@click.option(
    "--ignore-needs-pickup", is_flag=True, help="Also before stages that want to see the pickup."
)
@options.setting("--top", type=click.IntRange(1, 1000), default=10, help="How many places to list.")
@click.option(
    "--write",
    type=click.Path(),
    metavar="FILE",
    help="Write the board with the best buffers in it.",
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
    write: str | None,
    force: bool,
) -> Answer:
    """Where one buffer, or two or three, cuts the treble loss most.

    Tries every gap of the chain for the smallest worst treble loss of all states. The buffer stays
    on. Places inside loops are a list of their own, for one buffer: it is gone when its loop is
    out. The instrument's own lead stays with the instrument.
    """
    from sigsim.board.part_stage import powered_part
    from sigsim.cli.output import check_writable
    from sigsim.decide.buffer import report as decide
    from sigsim.decide.buffer.instead import instead_of_buffer
    from sigsim.decide.buffer.noise import buffer_noise
    from sigsim.show import buffer as show

    if write is not None:
        check_writable(write, force)
    weights = _weights(board, weight)
    views = decide.scene_views(board, weights) if scenes or weights else (decide.ALL_STATES,)
    stage = powered_part(part, "buffer", where="--part")
    report = decide.buffer_report(board, stage, count, views, ignore_pickup=ignore_needs_pickup)
    instead = instead_of_buffer(board, views, ignore_pickup=ignore_needs_pickup)
    noise = buffer_noise(report, top)
    if write is not None:
        _write(report, write, force)
    last = (
        ""
        if write is None
        else f"Written: {shown_path(write)}. Next: sigsim loss {shown_path(write)}"
    )
    return Answer(
        lambda: show.document(report, instead, noise, most=top),
        lambda: show.as_json(report, instead, noise),
        lambda: (report,),
        last,
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


def _write(report: BufferReport, path: str, force: bool) -> None:
    """Write the board file with the best buffers put into its text."""
    from sigsim.board.edit import free_name
    from sigsim.board.edit_file import inserted
    from sigsim.board.reader import parse_board
    from sigsim.cli.output import write_file

    text = Path(report.board.file).read_text(encoding="utf-8-sig")
    board = report.board
    for offset, gap in enumerate(sorted(report.placements[0].gaps, key=lambda g: g.index)):
        name = free_name(board, report.part.stage)
        keys = {"stage": name, "part": report.part.part, "always_on": True}
        text = inserted(text, (gap.index + offset,), keys, "put in by sigsim buffer")
        board = parse_board(text, board.file)
    write_file(path, text, force)
