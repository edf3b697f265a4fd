"""Standard output and standard error, whatever they are: closed, full, of few letters."""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import TextIO

import click

from sigsim.cli.usage import ESCAPES
from sigsim.text import escape


def usable_streams() -> None:
    """Let closed streams fail when they are written to, and never fail on a letter."""
    if None in (sys.stdout, sys.stderr):
        # No file that is opened later may take the place of a closed stream.
        while (number := os.open(os.devnull, os.O_RDONLY)) <= 2:
            pass
        os.close(number)
    if sys.stdout is None:
        sys.stdout = open(1, "w", closefd=False)  # noqa: SIM115  it lives as long as the program
    if sys.stderr is None:
        sys.stderr = open(2, "w", closefd=False)  # noqa: SIM115
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors=ESCAPES)


@contextmanager
def muted() -> Iterator[None]:
    """Keep from standard output what a library writes past Python."""
    with suppress(OSError, ValueError):
        sys.stdout.flush()
    try:
        kept = os.dup(1)
    except OSError:  # there is none
        yield
        return
    try:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        try:
            os.dup2(nowhere, 1)
        finally:
            os.close(nowhere)
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)


def echo_json(document: str) -> None:
    """Print a JSON document, with JSON's escapes for all that the stream has no letters for."""
    try:
        document.encode(getattr(sys.stdout, "encoding", None) or "ascii")
    except UnicodeEncodeError:
        document = "".join(c if c.isascii() else escape(c) for c in document)
    click.echo(document.rstrip("\n"))


def flush_streams() -> None:
    """Write what waits to be written.

    Raises
    ------
    OSError : a stream cannot be written
    """
    sys.stdout.flush()
    sys.stderr.flush()


def complain(text: str) -> None:
    """Write to standard error, after which nothing is left that could fail."""
    with suppress(OSError):
        sys.stderr.write(text)
        sys.stderr.flush()
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except OSError:
            point_away(stream)


def point_away(stream: TextIO | None = None) -> None:
    """Point a stream away, so that the interpreter's flush at the end does not complain."""
    with suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), (stream or sys.stdout).fileno())


def shown_by(error: click.ClickException) -> str:
    """Return what click says of an error, with the usage where it has one."""
    text = io.StringIO()
    error.show(text)
    return text.getvalue()
