"""How large a board may be for each command to answer in half a minute: told once.

A command refuses a larger one at once, and `check` names every limit that a board exceeds.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from sigsim.decide.buffer.gaps import gaps, gaps_elsewhere
from sigsim.errors import SigsimError
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.states.ways import count_ways

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.items.base import Item

# Other places that `buffer` tries for boxes that are there: all on boards of up to 64 boxes.
MOST_MOVES: Final = 64 * 64
THINGS: Final = "things in the chain, cables included"
LOADS: Final = "different loads of one split"
# All of them are found at once: 16 pads in one split, or any number of powered boxes.
MOST_LOADS: Final = 1 << 16
_SMALLER: Final = "try a part of the chain in a file of its own"


@dataclass(frozen=True)
class Limit:
    """What a board may have for one command.

    Attributes
    ----------
    command : which refuses more
    what : is counted
    most : how many there may be
    advice : what else to do
    count : counts them on a board
    """

    command: str
    what: str
    most: int
    advice: str
    count: Callable[[Board], int]


@dataclass(frozen=True)
class Excess:
    """A limit that a board exceeds, and what it has."""

    limit: Limit
    found: int


def _things(board: Board) -> int:
    return sum(1 for _ in board.items())


def _switches(board: Board) -> int:
    return len(board.switches())


def _gaps(board: Board) -> int:
    return len(gaps(board))


def _gaps_elsewhere(board: Board) -> int:
    return len(gaps_elsewhere(board))


def most_loads(board: Board, fixed: Mapping[str, bool] | None = None) -> int:
    """Return how many different loads the split with most of them can be; 1 without any.

    Parameters
    ----------
    board : the board
    fixed : things held on or off
    """
    return max(_loads(board.chain, fixed or {}), default=1)


def _loads(items: Iterable[Item], fixed: Mapping[str, bool]) -> Iterator[int]:
    for item in items:
        if isinstance(item, Split):
            yield sum(count_ways(item.inside, fixed))
        elif isinstance(item, Loop):
            yield from _loads(item.inside, fixed)


def _ways_to_feed(board: Board) -> int:
    outputs = sum(len(supply.outputs) for supply in board.supplies.values())
    return outputs * sum(1 for _ in board.powered())


LIMITS: Final = (
    Limit("states", "switches", 300, "hold some with --scene-like A,B or --off C", _switches),
    Limit("states", LOADS, MOST_LOADS, "hold some with --scene-like A,B or --off C", most_loads),
    *(
        Limit(command, LOADS, MOST_LOADS, _SMALLER, most_loads)
        for command in ("loss", "compare", "blame", "spread", "sheet", "report", "edit")
    ),
    Limit("buffer", "gaps in its chain", 300, _SMALLER, _gaps),
    Limit("buffer", "gaps in its loops and splits", 300, _SMALLER, _gaps_elsewhere),
    # Each place, and each cable, is a search of its own.
    Limit("buffer", LOADS, 1 << 12, _SMALLER, most_loads),
    # Every order is a board of its own.
    Limit("order", THINGS, 300, _SMALLER, _things),
    Limit("order", LOADS, 1 << 12, _SMALLER, most_loads),
    Limit("cables", THINGS, 300, _SMALLER, _things),
    Limit("cables", LOADS, 1 << 12, _SMALLER, most_loads),
    Limit("blame", THINGS, 300, _SMALLER, _things),
    Limit("spread", THINGS, 400, _SMALLER, _things),
    Limit("power", "pairs of a pedal and an output", 2000, _SMALLER, _ways_to_feed),
    Limit("noise", THINGS, 1000, _SMALLER, _things),
    Limit("report", THINGS, 400, "--only-scenes makes a page of its scenes", _things),
    # All of it is computed anew with each step, while somebody waits.
    Limit("edit", THINGS, 300, _SMALLER, _things),
    # The search for the worst combination grows with the square, in time and memory.
    Limit("loss", "switches", 4000, _SMALLER, _switches),
    Limit("compare", "switches", 2000, _SMALLER, _switches),
    Limit("sheet", "switches", 2000, _SMALLER, _switches),
)


def exceeded(board: Board) -> Iterator[Excess]:
    """Yield every limit that a board exceeds."""
    for limit in LIMITS:
        if (found := limit.count(board)) > limit.most:
            yield Excess(limit, found)


def most(command: str, what: str) -> int:
    """Return one limit by the command and what is counted."""
    return next(x.most for x in LIMITS if x.command == command and x.what == what)


def refuse_beyond(board: Board, command: str) -> None:
    """See that a board is not too large for a command.

    Raises
    ------
    SigsimError : it is, for one of the limits
    """
    for limit in LIMITS:
        if limit.command == command and (found := limit.count(board)) > limit.most:
            raise SigsimError(
                f"this board has too many {limit.what} for `{command}`",
                where=board.file,
                found=f"{found:,}",
                accepted=f"at most {limit.most:,}; {limit.advice}",
            )
