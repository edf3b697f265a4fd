"""A board opened on its page, as `sigsim edit` serves it."""

from __future__ import annotations

import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

_ENDS: Final = 10.0


@contextmanager
def served(board: Path) -> Iterator[str]:
    """Serve the page of a board file, give its address, and end it."""
    command = [sys.executable, "-m", "sigsim", "edit", str(board), "--no-browser"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            said = next(line for line in process.stdout if "http://" in line)
            yield said[said.index("http://") :].strip()
        finally:
            process.send_signal(signal.SIGINT)
            process.communicate(timeout=_ENDS)
