"""How much top end an electric bass or guitar loses through a chain of cables and pedals.

>>> import sigsim
>>> board = sigsim.read_board("board.toml")            # doctest: +SKIP
>>> r = sigsim.response(board, on={"coal fuzz"})       # doctest: +SKIP
>>> sigsim.metrics.treble_loss(r)                      # doctest: +SKIP
"""

from __future__ import annotations

# Not from `typing`: a program that is stopped while it starts has loaded as little as can be.
TYPE_CHECKING = False
if TYPE_CHECKING:
    from typing import Any

    from sigsim import measure, metrics
    from sigsim.board.changes import Changes
    from sigsim.board.model import Board
    from sigsim.board.reader import parse_board, read_board
    from sigsim.errors import BoardError, SigsimError
    from sigsim.states.response import Response, response
    from sigsim.states.search import worst

__version__ = "0.1.0"

__all__ = [
    "Board",
    "BoardError",
    "Changes",
    "Response",
    "SigsimError",
    "measure",
    "metrics",
    "parse_board",
    "read_board",
    "response",
    "worst",
]

# Loaded when first asked for, so that a program that only needs one room does not wait for all.
_HOMES = {
    "Board": "sigsim.board.model",
    "BoardError": "sigsim.errors",
    "Changes": "sigsim.board.changes",
    "Response": "sigsim.states.response",
    "SigsimError": "sigsim.errors",
    "parse_board": "sigsim.board.reader",
    "read_board": "sigsim.board.reader",
    "response": "sigsim.states.response",
    "worst": "sigsim.states.search",
}


def __getattr__(name: str) -> Any:
    from importlib import import_module

    if name in ("measure", "metrics"):
        return import_module(f"sigsim.{name}")
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    raise AttributeError(f"module 'sigsim' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)
