"""How many different states a board has, each of them, and one of them drawn at random."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from sigsim.items.loop import Loop
from sigsim.items.split import Split

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
    return count_states(board.laid, fixed or {})


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
    return frozenset(_draw(board.laid, generator, fixed or {}))


def each_state(
    items: Sequence[Item], fixed: Mapping[str, bool] | None = None
) -> Iterator[tuple[str, ...]]:
    """Yield the different states of some items, each as the names of what is on, all off first.

    Parameters
    ----------
    items : in order
    fixed : things held on or off
    """
    if not items:
        yield ()
        return
    first, *rest = items
    for own in _each(first, fixed or {}):
        for others in each_state(rest, fixed):
            yield (*own, *others)


def _each(item: Item, fixed: Mapping[str, bool]) -> Iterator[tuple[str, ...]]:
    inside = item.inside if isinstance(item, Loop | Split) else ()
    if item.switch is None:
        yield from each_state(inside, fixed)
        return
    held = fixed.get(item.switch)
    if held is not True:
        yield from each_state(item.outside if isinstance(item, Loop) else (), fixed)
    if held is not False:
        yield from ((item.switch, *on) for on in each_state(inside, fixed))


def count_states(items: Sequence[Item], fixed: Mapping[str, bool]) -> int:
    """Return how many different states some items have, with some things held on or off."""
    total = 1
    for item in items:
        if isinstance(item, Split):
            total *= count_states(item.inside, fixed)
        if item.switch is None:
            continue
        held = fixed.get(item.switch)
        inside = count_states(item.inside, fixed) if isinstance(item, Loop) else 1
        total *= {True: inside, False: 1, None: 1 + inside}[held]
    return total


def _draw(
    items: tuple[Item, ...], generator: np.random.Generator, fixed: Mapping[str, bool]
) -> Iterator[str]:
    for item in items:
        if isinstance(item, Split):
            yield from _draw(item.inside, generator, fixed)
        if item.switch is None:
            continue
        held = fixed.get(item.switch)
        inside = count_states(item.inside, fixed) if isinstance(item, Loop) else 1
        if held or (held is None and generator.random() * (1 + inside) >= 1):
            yield item.switch
            if isinstance(item, Loop):
                yield from _draw(item.inside, generator, fixed)
