"""How many different states a board has, and drawing one of them at random."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from sigsim.items.loop import Loop

if TYPE_CHECKING:
    import numpy as np

    from sigsim.board.model import Board
    from sigsim.items.base import Item


def distinct_states(board: Board, fixed: Mapping[str, bool] | None = None) -> int:
    """Return the number of states that differ; what is inside a loop that is out counts once.

    Parameters
    ----------
    board : the board
    fixed : things held on or off
    """
    return _count(board.chain, fixed or {})


def random_state(
    board: Board, generator: np.random.Generator, fixed: Mapping[str, bool] | None = None
) -> frozenset[str]:
    """Return one of the different states, each as likely as any other.

    Parameters
    ----------
    board : the board
    generator : of the random numbers
    fixed : things held on or off
    """
    return frozenset(_draw(board.chain, generator, fixed or {}))


def _count(items: tuple[Item, ...], fixed: Mapping[str, bool]) -> int:
    total = 1
    for item in items:
        if item.switch is None:
            continue
        held = fixed.get(item.switch)
        inside = _count(item.inside, fixed) if isinstance(item, Loop) else 1
        total *= {True: inside, False: 1, None: 1 + inside}[held]
    return total


def _draw(
    items: tuple[Item, ...], generator: np.random.Generator, fixed: Mapping[str, bool]
) -> Iterator[str]:
    for item in items:
        if item.switch is None:
            continue
        held = fixed.get(item.switch)
        inside = _count(item.inside, fixed) if isinstance(item, Loop) else 1
        if held or (held is None and generator.random() * (1 + inside) >= 1):
            yield item.switch
            if isinstance(item, Loop):
                yield from _draw(item.inside, generator, fixed)
