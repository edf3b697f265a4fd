"""Which room may import which: told once, for the test and for the documents."""

from __future__ import annotations

BELOW: dict[str, set[str]] = {
    "text": set(),
    "errors": {"text"},
    "stopping": set(),
    "files": {"errors", "stopping"},
    "quantities": set(),
    "units": {"errors", "quantities"},
    "physics": set(),
    "layout": set(),
    "items": {"physics", "layout"},
    "metrics": {"physics"},
    "board": {"text", "errors", "quantities", "units", "physics", "layout", "items"},
    "states": {"errors", "physics", "items", "metrics", "board"},
    "decide": {"errors", "physics", "layout", "items", "metrics", "board", "states"},
    "spice": {
        "text", "errors", "units", "physics", "items", "metrics", "board", "states", "decide",
    },
    "audio": {"errors", "units", "physics", "items", "metrics", "board", "states", "decide"},
    "measure": {
        "text", "errors", "quantities", "units", "physics", "items", "metrics", "board", "states",
        "decide", "audio",
    },
    "show": {
        "text", "errors", "quantities", "units", "physics", "layout", "items", "metrics", "board",
        "decide", "spice",
    },
    "live": {
        "text", "errors", "stopping", "files", "quantities", "units", "physics", "layout", "items",
        "metrics", "board", "states", "decide", "audio", "show",
    },
    "cli": {
        "text", "errors", "stopping", "files", "units", "physics", "layout", "items", "metrics",
        "board", "states", "decide", "spice", "audio", "measure", "show", "live",
    },
}  # fmt: skip
