"""Silence for what a decoder's library writes to standard error by itself."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager

_STDERR = 2


@contextmanager
def quiet_library() -> Iterator[None]:
    """Keep what a library in C says of a broken file from a terminal; errors are raised anyway."""
    sys.stderr.flush()
    try:
        kept = os.dup(_STDERR)
    except OSError:  # there is none
        yield
        return
    try:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        try:
            os.dup2(nowhere, _STDERR)
        finally:
            os.close(nowhere)
        yield
    finally:
        os.dup2(kept, _STDERR)
        os.close(kept)
