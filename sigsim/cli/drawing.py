"""Saving plots."""

from __future__ import annotations

import io
import warnings
from collections.abc import Callable
from typing import TYPE_CHECKING, Final, TypeAlias

import click

from sigsim.cli.options import PLOT_SIZE
from sigsim.cli.output import check_writable, write_file
from sigsim.errors import OutputError, nearest, quote

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    Draw: TypeAlias = Callable[[Figure], object]

FORMATS: Final = (".png", ".svg", ".pdf")


def save_plot(path: str | None, force: bool) -> Callable[[Draw], None] | None:
    """Return what draws into a file, None if no file was asked for.

    Parameters
    ----------
    path : where to; its ending says the format
    force : whether an existing file may be overwritten

    Raises
    ------
    OutputError : a format that is not known, or a file that cannot be written; at once, before
        anything is computed
    """
    if path is None:
        return None
    size = click.get_current_context().meta.get(PLOT_SIZE, ())
    target = check_writable(path, force)
    ending = target.suffix.lower()
    if ending not in FORMATS:
        raise OutputError(
            "a plot's file name says its format",
            where="--plot",
            found=quote(str(path)),
            accepted=" ".join(FORMATS),
            nearest=nearest(ending, FORMATS) if ending else None,
        )

    def save(draw: Draw) -> None:
        from sigsim.show.plots.style import new_figure

        figure = new_figure(*size)
        draw(figure)
        buffer = io.BytesIO()
        metadata = {"Date": None} if ending == ".svg" else {}
        with warnings.catch_warnings():
            # A letter that the font lacks is drawn as a box; the user can do nothing about it.
            warnings.filterwarnings("ignore", message="Glyph .* missing")
            figure.savefig(buffer, format=ending[1:], metadata=metadata)
        write_file(target, buffer.getvalue(), force)

    return save
