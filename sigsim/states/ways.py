"""What the different states of a split have alike, and how many different loads it can be.

What is behind the first isolator of a split is not seen from the way that it leaves, so that its
states are alike there: a split of n pedals is n + 1 different loads and 2^n states.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.states.distinct import each_state

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import On
    from sigsim.items.base import Item

    Held = Mapping[str, bool]


def count_ways(items: Iterable[Item], fixed: Held) -> tuple[int, int]:
    """Return how many different loads some items of a split can be, from their beginning.

    Returns
    -------
    those in which no isolator has come yet behind the last item, and those that end at one
    """
    through, ended = 1, 0
    for item in items:
        passing, ending = 0, 0
        if isinstance(item, Split):
            passing = sum(count_ways(item.inside, fixed))
        else:
            for is_on in _choices(item, fixed):
                if isinstance(item, Loop) and is_on:
                    more = count_ways(item.inside, fixed)
                    passing, ending = passing + more[0], ending + more[1]
                elif item.isolates(is_on):
                    ending += 1
                else:
                    passing += 1
        ended += through * ending
        through *= passing
    return through, ended


def _choices(item: Item, fixed: Held) -> tuple[bool, ...]:
    """Return whether an item can be off and on, off first."""
    if item.switch is None:
        return (True,)
    held = fixed.get(item.switch)
    return (False, True) if held is None else (held,)


def alike(board: Board, on: On, fixed: Held) -> Iterator[frozenset[str]]:
    """Yield all states that sound like one of them, in which only what is not seen differs.

    Parameters
    ----------
    board : the board, listened at one of its ends
    on : the names of what is on in one of these states
    fixed : things held on or off
    """
    free = tuple(_unseen(board.chain, on))
    seen = frozenset(on) - frozenset(switches_of(free))
    return (seen.union(names) for names in each_state(free, fixed))


def _unseen(items: Iterable[Item], on: On) -> Iterator[Item]:
    """Yield what is behind the first isolators of all splits on the way in a state."""
    for item in items:
        if isinstance(item, Split):
            yield from _behind_isolator(item.inside, on)[0]
        elif isinstance(item, Loop):
            yield from _unseen(item.inside if item.loop in on else item.outside, on)


def _behind_isolator(items: Sequence[Item], on: On) -> tuple[list[Item], bool]:
    """Return what is behind the first isolator among the items of a split, and if there is one."""
    found: list[Item] = []
    for index, item in enumerate(items):
        if isinstance(item, Split):
            found += _behind_isolator(item.inside, on)[0]
            continue
        ends = item.isolates(item.switch is None or item.switch in on)
        if isinstance(item, Loop) and item.loop in on:
            inner, ends = _behind_isolator(item.inside, on)
            found += inner
        if ends:
            return [*found, *items[index + 1 :]], True
    return found, False


def switches_of(items: Iterable[Item]) -> Iterator[str]:
    """Yield the names of all switches among some items, in loops and splits too."""
    for item in items:
        if item.switch is not None:
            yield item.switch
        if isinstance(item, Loop | Split):
            yield from switches_of(item.inside)
