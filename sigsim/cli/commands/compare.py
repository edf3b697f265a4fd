"""`sigsim compare`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from sigsim.cli import options
from sigsim.cli.answers import Answer, answered
from sigsim.cli.ends import at_option
from sigsim.errors import SigsimError, shown_path

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.metrics import Basis


def _boards(ctx: click.Context, param: click.Parameter, paths: tuple[str, ...]) -> list[Board]:
    """Read all boards; one file twice is refused before anything is read."""
    if len(paths) == 1:
        raise SigsimError(
            "one board alone cannot be compared",
            where=shown_path(paths[0]),
            accepted="two or more board files",
        )
    places = [_place(path) for path in paths]
    for path, place in zip(paths, places, strict=True):
        if places.count(place) > 1:
            raise SigsimError(
                "this is the same file twice: a board does not differ from itself",
                where=shown_path(path),
                accepted="different board files",
            )
    return [options.read_with_warnings(Path(path)) for path in paths]


def _place(path: str) -> Path:
    """Return where a file really is; a name that cannot be used is left for the reader."""
    try:
        return Path(path).resolve()
    except (OSError, ValueError, RuntimeError):
        return Path(path)


@click.command("compare")
@click.argument(
    "boards", metavar="BOARD BOARD…", nargs=-1, required=True, callback=_boards, type=click.Path()
)
@at_option
@click.option("--scene", multiple=True, metavar="NAME", help="Only this shared scene. Repeatable.")
@options.basis_options
@answered
def command(boards: list[Board], scene: tuple[str, ...], basis: Basis) -> Answer:
    """Build this board or that one: two or more side by side.

    All off, the scenes that more than one board has by the same name, and the worst combination
    of each board, with the differences to the first. A loss is measured against each board's own
    reference; where references differ, what arrives is said as well. The plot shows all
    off and the worst combination of each.
    """
    from sigsim.decide.compare import compare, compare_curves
    from sigsim.show import compare as show

    report = compare(boards, basis, scene)
    return Answer(
        lambda: show.document(report),
        lambda: show.as_json(report),
        lambda: (report, compare_curves(report)),
    )
