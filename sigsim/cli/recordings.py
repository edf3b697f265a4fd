"""The files of the commands that measure: recordings, what was played, and what is said of them."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Any, TypeVar

import click

from sigsim.cli.output import note_input
from sigsim.errors import SigsimError, quote

if TYPE_CHECKING:
    from sigsim.cli.progress import Progress
    from sigsim.measure.played import Played

_F = TypeVar("_F", bound=Callable[..., Any])


def check_files(files: Iterable[tuple[str, str]]) -> None:
    """Note the recordings as files that are read, and refuse one that is given twice.

    Parameters
    ----------
    files : the option and the path of each

    Raises
    ------
    SigsimError : one file has two places, which cannot be meant
    """
    seen: dict[object, str] = {}
    for name, path in files:
        place = _place(path)
        if place in seen:
            raise SigsimError(
                f"this file is already {seen[place]}: a recording has one place",
                where=name,
                found=quote(path),
                accepted="another recording",
            )
        seen[place] = name
        note_input(path)


def _place(path: str) -> object:
    """Return what is equal for two names of one file; a name that cannot be used stays itself."""
    try:
        found = os.stat(path)
    except (OSError, ValueError):
        return path
    return found.st_dev, found.st_ino


def sweep_option(command: _F) -> _F:
    """Add --sweep: what was played."""
    return click.option(
        "--sweep",
        metavar="SWEEP.wav",
        type=click.Path(),
        help='The file that was played, if "sigsim sweep" was given options.',
    )(command)


def read_sweep(path: str | None) -> Played | None:
    """Return what was played, None for the usual sweep.

    Raises
    ------
    SigsimError : it cannot be read
    """
    if path is None:
        return None
    from sigsim.measure.played import read_played

    note_input(path)
    return read_played(path)


def hearing(paths: Iterable[str]) -> Progress:
    """Return the progress of hearing recordings, which is told samples and says seconds.

    Raises
    ------
    SigsimError : one of them is no recording
    """
    from sigsim.audio.files import open_recording
    from sigsim.cli.progress import Progress

    found = [open_recording(path) for path in paths]
    frames, seconds = sum(one.frames for one in found), sum(one.seconds for one in found)
    return Progress(frames, "seconds of sound", each=seconds / frames if frames else 1.0)


def say_notes(notes: Iterable[str]) -> None:
    """Write what should be known to standard error, each once."""
    from sigsim.text import escaped

    for note in dict.fromkeys(notes):
        click.echo(escaped(f"note: {note.rstrip('.')}"), err=True)
