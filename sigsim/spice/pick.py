"""Which states a cross-check looks at."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.states.distinct import distinct_states, random_state

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import State

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

    Each state is as likely as any other. Switching each thing by a coin instead leaves deep loops
    out: over 13 boards of more than 1000 states, ten states drawn either way met 38.6 segments and
    38.8 positions of an item (the coin: 34.8 and 36.8), and fifty the same number to 1 %.
    """
    named = list(board.named_states())
    seen = {board.heard(state.on) for state in named}
    total = distinct_states(board)
    if count is None:
        count = max(MOST_STATES - len(seen), 0)
    count = min(count, total - len(seen))
    generator, others = np.random.default_rng(seed), set[frozenset[str]]()
    while len(others) < count:
        others |= {random_state(board, generator)} - seen
    switches = board.switches()
    in_order = sorted(others, key=lambda on: [name in on for name in switches])
    return named + [board.state(on) for on in in_order]
