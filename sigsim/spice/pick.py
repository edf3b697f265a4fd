"""Which states a cross-check looks at."""

from __future__ import annotations

import random
from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

from sigsim.items.loop import Loop
from sigsim.states.distinct import distinct_states

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import State
    from sigsim.items.base import Item

# At about 30 ms each half a minute.
MOST_STATES: Final = 1000


def picked(board: Board, count: int | None, seed: int) -> list[State]:
    """Return every stage off, each scene, and other states.

    Parameters
    ----------
    board : the board
    count : how many others, drawn at random; None for all that differ, up to `MOST_STATES`
    seed : of the draw

    Returns
    -------
    no two are the same circuit, except that every scene keeps its name
    """
    states = list(board.named_states())
    seen = {board.heard(state.on) for state in states}
    total = distinct_states(board)
    if count is None:
        count = max(MOST_STATES - len(seen), 0)
    if total <= MOST_STATES:
        others = [on for on in every_state(board) if on not in seen]
        if count < len(others):
            others = random.Random(seed).sample(others, count)
    else:
        others = _drawn(board, seen, count, random.Random(seed))
    return states + [board.state(on) for on in others]


def every_state(board: Board) -> Iterator[frozenset[str]]:
    """Yield every state that differs from all others, the fewest things on first by position."""
    yield from _states(board.chain, frozenset())


def _states(items: tuple[Item, ...], on: frozenset[str]) -> Iterator[frozenset[str]]:
    if not items:
        yield on
        return
    first, rest = items[0], items[1:]
    if first.switch is None:
        yield from _states(rest, on)
        return
    yield from _states(rest, on)
    inside = first.inside if isinstance(first, Loop) else ()
    yield from _states(inside + rest, on | {first.switch})


def _drawn(
    board: Board, seen: set[frozenset[str]], count: int, draw: random.Random
) -> list[frozenset[str]]:
    names = board.switches()
    found: list[frozenset[str]] = []
    # There are many more states than are wanted, but loops that are out make draws alike.
    for _ in range(100 * count):
        if len(found) == count:
            break
        on = board.heard(frozenset(name for name in names if draw.random() < 0.5))
        if on not in seen:
            seen.add(on)
            found.append(on)
    return found
