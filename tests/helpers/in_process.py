"""Running the program in the test's own process: the same path as a user's, without the start."""

from __future__ import annotations

import contextlib
import io
import sys
from unittest.mock import patch

from helpers.program import Run, without_progress
from sigsim.cli.main import main


def sigsim_here(*arguments: object) -> Run:
    """Run `sigsim` with arguments; a warning is an error, as it is for all tests."""
    out, err, status = io.StringIO(), io.StringIO(), 0
    with (
        patch.object(sys, "argv", ["sigsim", *map(str, arguments)]),
        # Else the program would silence warnings, as it does for a user.
        patch.object(sys, "warnoptions", ["error"]),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
    ):
        try:
            main()
        except SystemExit as end:
            status = int(end.code or 0)
    return Run(status, out.getvalue(), without_progress(err.getvalue()))
