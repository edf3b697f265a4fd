"""Tables that are written on one line."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any


def inline(keys: Mapping[str, Any]) -> Any:
    """Return a table that a file's text has in braces."""
    import tomlkit

    made = tomlkit.inline_table()
    made.update(keys)
    return made
