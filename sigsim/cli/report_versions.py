"""The boards between which the page of `report` switches: as the file is written, its variants."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sigsim.cli.changing import changes
from sigsim.cli.ends import listened
from sigsim.cli.options import BOARD_PATH, say_warnings
from sigsim.cli.output import note_input
from sigsim.cli.progress import Progress
from sigsim.errors import SigsimError, shown_path
from sigsim.show.render.text import count

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from sigsim.board.model import Board
    from sigsim.decide.page.report import ReportData, ReportQuestion


def variants_of(board: Board) -> tuple[Board, ...]:
    """Return the variants of a board for the page, each read alone, with the values that are set.

    A page of variants that were asked for has no others. What cannot be read is left out with a
    warning: the page of the board itself does not depend on it.

    Parameters
    ----------
    board : as the command has read it
    """
    if not board.variants or changes().variants:
        return ()
    from sigsim.board.reader import read_versions

    path = Path(click.get_current_context().meta[BOARD_PATH])
    if not path.is_file():
        _left_out(board, "all variants", "they need an ordinary file, which can be read again")
        return ()
    try:
        _, *variants = read_versions(path, changes().values)
    except SigsimError as error:
        _left_out(board, "all variants", error.problem.what)
        return ()
    for file in (file for one in variants for file in one.files[1:]):
        note_input(file)
    told = frozenset(board.warnings)
    say_warnings(
        replace(one, warnings=tuple(w for w in one.warnings if w not in told)) for one in variants
    )
    return tuple(heard for one in variants if (heard := _heard(one)) is not None)


def gathered(question: ReportQuestion, variants: Sequence[Board]) -> Iterator[ReportData]:
    """Yield what the page shows of a board, then of each variant; say how far it is.

    Parameters
    ----------
    question : about the board
    variants : of it
    """
    from sigsim.board.cable_parts import library_cables
    from sigsim.decide.page.report import report_data

    total = 1 + len(variants)
    progress = Progress(total, "% of the page", each=100 / total)
    yield report_data(question)
    for variant in variants:
        progress(1)
        cables = library_cables(variant.library)
        yield report_data(replace(question, board=variant, cables=cables))
    progress.finish()


def choice(variants: Sequence[Board]) -> str:
    """Return the words for what can be chosen on the page, empty for nothing."""
    if not variants:
        return ""
    number = count(len(variants), "variant", "variants")
    return f" and choose there: as written, or {number}"


def _heard(board: Board) -> Board | None:
    """Return a variant listened at the end that was asked for, None if it has no such end."""
    try:
        return listened(board)
    except SigsimError as error:
        _left_out(board, f"the {board.changes.said}", error.problem.what)
        return None


def _left_out(board: Board, what: str, why: str) -> None:
    where = shown_path(board.file)
    click.echo(f"warning: {where}: the page is without {what}: {why}", err=True)
