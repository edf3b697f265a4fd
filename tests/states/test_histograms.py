"""Histograms that add, against counting one by one."""

from __future__ import annotations

import numpy as np
import pytest

from sigsim.states.arrivals import Arrivals
from sigsim.states.histograms import Counts, Meeting, backward, binned, extent, forward


def network(generator: np.random.Generator, vertices: int, ways: int) -> list[Arrivals]:
    """Return stretches from random vertices to each, some of which stand for several states."""
    found = []
    for vertex in range(1, vertices):
        start = generator.integers(0, vertex, ways)
        start[0] = vertex - 1
        count = generator.integers(1, 4, ways).astype(float)
        none = np.zeros((ways, 0))
        found.append(Arrivals(start, generator.normal(0, 2, ways), count, (), none, {}))
    return found


def all_sums(found: list[Arrivals]) -> np.ndarray:
    """Every sum from the first vertex to the last, as often as it counts."""
    sums = [np.zeros(1)]
    for arrived in found:
        parts = zip(arrived.start, arrived.score, arrived.count, strict=True)
        sums.append(np.concatenate([np.repeat(sums[s] + v, int(n)) for s, v, n in parts]))
    return np.sort(sums[-1])


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize(("vertices", "ways", "width"), [(5, 6, 0.02), (3, 200, 0.01)])
def test_sums_one_by_one(seed: int, vertices: int, ways: int, width: float) -> None:
    """Few ways are added one by one, many through a transform: both are whole numbers."""
    found = network(np.random.default_rng(seed), vertices, ways)
    stretches, low, high = binned(found, width)
    depth, _ = extent(found)
    # Half a bin for each stretch is the most there can be.
    assert -depth * width / 2 <= low <= high <= depth * width / 2
    before, behind, true = forward(stretches), backward(stretches), all_sums(found)
    assert before[-1].counts.sum() == true.size
    assert behind[0].counts.sum() == true.size
    assert (before[-1].counts % 1 == 0).all()
    places = np.arange(before[-1].first, before[-1].end)
    ours = np.repeat(places * width, before[-1].counts.astype(int))
    assert (true - ours >= low - 1e-9).all()
    assert (true - ours <= high + 1e-9).all()


@pytest.mark.parametrize("seed", range(20))
def test_what_meets_at_a_vertex(seed: int) -> None:
    generator = np.random.default_rng(seed)
    sizes = generator.integers(1, 40, 2)
    one, two = (generator.integers(0, 5, size).astype(float) + (size == 1) for size in sizes)
    first, second = generator.integers(-9, 9, 2).tolist()
    meeting = Meeting(Counts(first, one), Counts(second, two))
    both = np.convolve(one, two)
    assert meeting.total == both.sum()
    for place in range(first + second - 3, first + second + both.size + 3):
        upto = both[: max(0, place - first - second + 1)].sum()
        assert meeting.up_to(place) == upto
