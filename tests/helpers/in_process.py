"""Running the program in the test's own process: the same path as a user's, without the start."""

from __future__ import annotations

import contextlib
import io
import os
import sys
from collections.abc import Iterator
from pathlib import Path
from unittest.mock import patch

from helpers.program import Run, without_progress
from sigsim.cli.main import main


def sigsim_here(*arguments: object, cwd: Path | None = None, text: str | None = None) -> Run:
    """Run `sigsim` with arguments; a warning is an error, as it is for all tests.

    `text` is its standard input, through a pipe; without it, that of the test.
    """
    out, err, status = io.StringIO(), io.StringIO(), 0
    with (
        patch.object(sys, "argv", ["sigsim", *map(str, arguments)]),
        # Else the program would silence warnings, as it does for a user.
        patch.object(sys, "warnoptions", ["error"]),
        contextlib.chdir(cwd or "."),
        contextlib.nullcontext() if text is None else _standard_input(text),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
    ):
        try:
            main()
        except SystemExit as end:
            status = int(end.code or 0)
    return Run(status, out.getvalue(), without_progress(err.getvalue()))


@contextlib.contextmanager
def _standard_input(text: str) -> Iterator[None]:
    """Let standard input be a pipe with a text in it, shorter than what a pipe holds."""
    reading, writing = os.pipe()
    with open(writing, "w", encoding="utf-8") as end:
        end.write(text)
    with open(reading, encoding="utf-8") as pipe, patch.object(sys, "stdin", pipe):
        yield
