"""`sigsim compare`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from sigsim.cli import options
from sigsim.cli.answers import Answer, answered
from sigsim.cli.changing import change_options, changes
from sigsim.cli.ends import at_option, listened
from sigsim.cli.output import note_input
from sigsim.cli.several import refuse_twice
from sigsim.errors import SigsimError, shown_path

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.metrics import Basis


def _boards(ctx: click.Context, param: click.Parameter, paths: tuple[str, ...]) -> list[Board]:
    """Read all boards; one file twice is refused before anything is read."""
    if ctx.params["variants"]:
        return _versions(paths)
    if len(paths) == 1 and changes().variants:
        raise SigsimError(
            "one board alone cannot be compared; --variants lays all its variants side by side",
            where=f"{shown_path(paths[0])}, --variant",
            accepted="--variants, or two or more board files",
        )
    if len(paths) == 1:
        raise SigsimError(
            "one board alone cannot be compared",
            where=shown_path(paths[0]),
            accepted="two or more board files, or one with variants and --variants",
        )
    refuse_twice(paths, "a board does not differ from itself")
    return [options.read_with_warnings(Path(path)) for path in paths]


def _versions(paths: tuple[str, ...]) -> list[Board]:
    """Read one board as it is written and with each of its variants."""
    if len(paths) > 1:
        what = "the variants of one board are compared, not of several"
        raise SigsimError(what, where="--variants", found=f"{len(paths)} board files")
    if changes().variants:
        what = "each variant is compared alone"
        raise SigsimError(what, where="--variants", found="--variant", accepted="one of the two")
    from sigsim.board.reader import read_versions

    note_input(paths[0])
    boards = read_versions(Path(paths[0]), changes().values)
    for file in boards[0].files[1:]:
        note_input(file)
    if not boards[0].variants:
        raise SigsimError(
            "this file has no variants to compare",
            where=f"{shown_path(paths[0])}, --variants",
            accepted="[variants.NAME] tables in the file",
        )
    options.say_warnings(boards)
    return [listened(board) for board in boards]


@click.command("compare")
@click.argument(
    "boards", metavar="BOARD BOARD…", nargs=-1, required=True, callback=_boards, type=click.Path()
)
@at_option
@change_options
@click.option(
    "--variants",
    is_flag=True,
    is_eager=True,  # known before BOARD is read
    help="One board: as it is written, and with each of its variants.",
)
@click.option("--scene", multiple=True, metavar="NAME", help="Only this shared scene. Repeatable.")
@options.basis_options
@answered
def command(boards: list[Board], variants: bool, scene: tuple[str, ...], basis: Basis) -> Answer:
    """Build this board or that one: two or more side by side.

    All off, the scenes that more than one board has by the same name, and the worst combination
    of each board, with the differences to the first. A loss is measured against each board's own
    reference; where references differ, what arrives is said as well. The plot shows all
    off and the worst combination of each.

    With --variants it is one board: as its file has it, and with each of its variants alone.
    """
    from sigsim.decide.compare import compare, compare_curves, version_names
    from sigsim.show import compare as show
    from sigsim.show.compare_json import as_json

    names = version_names(boards[0]) if variants else ()
    report = compare(boards, basis, scene, names)
    return Answer(
        lambda: show.document(report),
        lambda: as_json(report),
        lambda: (report, compare_curves(report)),
    )
