"""Saving plots."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Final, TypeAlias

import click

from sigsim.cli.options import PLOT_SIZE
from sigsim.cli.output import check_writable, checked_ending, write_file
from sigsim.errors import SigsimError

if TYPE_CHECKING:
    from collections.abc import Callable

    from sigsim.show.document import Drawing

    Save: TypeAlias = Callable[[Drawing], None]

# By the ending of the file's name: where it keeps what a plot says in words.
FORMATS: Final = {".png": "Description", ".svg": "Description", ".pdf": "Subject"}

_MOST_LETTERS: Final = 12


def quiet_matplotlib() -> None:
    """Let matplotlib draw as it is delivered, whatever the surroundings, and say nothing."""
    import logging

    # An unknown name here is an error already when it is loaded; what draws is chosen by us.
    os.environ["MPLBACKEND"] = "agg"
    logging.getLogger("matplotlib").setLevel(logging.CRITICAL + 1)
    import matplotlib

    matplotlib.rcdefaults()


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
    context = click.get_current_context()
    if path is None:
        if PLOT_SIZE in context.meta:
            raise SigsimError("this does nothing without --plot", where="--plot-size")
        return None
    size = context.meta.get(PLOT_SIZE, ())
    target = check_writable(path, force)
    ending = checked_ending(path, FORMATS, "a plot's file name says its format", "--plot")

    def save(drawing: Drawing) -> None:
        from sigsim.show.plots.picture import picture

        quiet_matplotlib()
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
