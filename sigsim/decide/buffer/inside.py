"""A buffer inside a loop: there only while the loop is in, and gone when it is out.

It does not cut the chain in two in every state, so that losses do not add up over it: each place is
a board of its own, and its worst state is searched for.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sigsim.board.wiring import unwired, wired
from sigsim.decide.buffer.gaps import Gap, first_wanting_pickup, with_replaced
from sigsim.items.loop import Loop

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.items.base import Item
    from sigsim.items.stage import ActiveStage


@dataclass(frozen=True)
class Inside:
    """A place inside a loop.

    Attributes
    ----------
    gap : where, with the loop's name
    board : the board with the box there
    """

    gap: Gap
    board: Board


def inside_loops(board: Board, box: ActiveStage) -> tuple[Inside, ...]:
    """Return the places inside loops, nested ones as well, in the order of the chain.

    Parameters
    ----------
    board : the board
    box : what is put in, always on
    """
    return tuple(_inside(board, board.chain, None, box))


def _inside(
    board: Board, items: Sequence[Item], forbidden_behind: str | None, box: ActiveStage
) -> Iterator[Inside]:
    """Go through the loops among some items.

    Parameters
    ----------
    forbidden_behind : the first stage behind the items that wants to see the pickup
    """
    for number, loop in enumerate(items):
        if not isinstance(loop, Loop):
            continue
        behind = first_wanting_pickup(items[number + 1 :]) or forbidden_behind
        listed = unwired(loop.inside, board.wiring)
        for index in range(len(listed) + 1):
            gap = Gap(
                index,
                listed[index - 1] if index else None,
                listed[index] if index < len(listed) else None,
                False,
                first_wanting_pickup(listed[index:]) or behind,
                loop.label,
            )
            within = wired([*listed[:index], box, *listed[index:]], board.wiring, inside=True)
            yield Inside(gap, with_replaced(board, loop, replace(loop, inside=within)))
        yield from _inside(board, loop.inside, behind, box)
