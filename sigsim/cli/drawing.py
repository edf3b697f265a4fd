"""Saving plots."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, TypeAlias

import click

from sigsim.cli.options import PLOT_SIZE
from sigsim.cli.output import check_writable, checked_ending, write_file

if TYPE_CHECKING:
    from collections.abc import Callable

    from sigsim.show.document import Drawing

    Save: TypeAlias = Callable[[Drawing], None]

# By the ending of the file's name: where it keeps what a plot says in words.
FORMATS: Final = {".png": "Description", ".svg": "Description", ".pdf": "Subject"}

_MOST_LETTERS: Final = 12


def save_plot(path: str | None, force: bool) -> Save | None:
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
    ending = checked_ending(path, FORMATS, "a plot's file name says its format", "--plot")

    def save(drawing: Drawing) -> None:
        from sigsim.show.plots.picture import picture

        made = picture(drawing, ending[1:], FORMATS[ending], size)
        write_file(target, made.content, force)
        if made.missing:
            letters = "".join(sorted(made.missing)[:_MOST_LETTERS])
            note = (
                f"no font on this machine has these letters, so that the plot shows their numbers: "
                f"{letters}; an .svg keeps them as text"
            )
            click.echo(f"note: {note}", err=True)

    return save
