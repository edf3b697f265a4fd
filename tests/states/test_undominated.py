"""Which ways to a vertex matter: those that fewer than so many better ones are as loud as."""

from __future__ import annotations

import numpy as np
import pytest

from sigsim.states.sounding import Ways, _undominated


def one_by_one(ways: Ways, count: int, most: int) -> tuple[list[int], bool]:
    """The definition, each way held against all that were kept before it."""
    kept: list[int] = []
    for number in np.argsort(-ways.scores, kind="stable").tolist():
        own = ways.levels[number]
        if sum(bool((ways.levels[k] >= own).all()) for k in kept) >= count:
            continue
        if len(kept) == most:
            return kept, False
        kept.append(number)
    return kept, True


@pytest.mark.parametrize("seed", range(60))
def test_against_one_by_one(seed: int) -> None:
    draw = np.random.default_rng(seed)
    size, width = int(draw.choice((0, 1, 7, 50, 1200))), int(draw.integers(1, 3))
    scores = draw.integers(-3, 4, size).astype(float)
    levels = draw.choice([-np.inf, np.inf, np.nan, -1.0, 0.0, 1.0, 2.0, 3.5], (size, width))
    levels = levels + draw.choice([0.0, 1.0]) * draw.random((size, width))
    nothing = np.zeros(size, np.int64)
    ways, count = Ways(scores, levels, nothing, nothing, nothing), int(draw.integers(1, 5))
    most = count + int(draw.choice((0, 3, 40)))
    kept, whole = _undominated(ways, count, most)
    assert (kept.tolist(), whole) == one_by_one(ways, count, most)
