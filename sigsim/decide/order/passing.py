"""Runs of boxes that pass, by their sets, and what it may change in which order they stand."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from sigsim.states.options import Options, UnfitError

if TYPE_CHECKING:
    from sigsim.physics.arrays import ComplexArray, FloatArray
    from sigsim.states.graph import Index

# More runs than this are not scored.
_MOST_RUNS: Final = 24_000


class Passing(NamedTuple):
    """Runs of boxes that pass, by their sets.

    Attributes
    ----------
    sets : as bits, shape (runs,)
    matrices : shape (4, columns, runs)
    base : what they score already [nepers]
    """

    sets: Index
    matrices: ComplexArray
    base: FloatArray


def passing_runs(elements: Sequence[Options]) -> Passing:
    """Return all runs of boxes, each box in each way to pass, in the order of their numbers."""
    columns = elements[0].matrices.shape[1]
    sets = np.zeros(1, np.int64)
    A, B, C, D = (np.full((columns, 1), one, complex) for one in (1.0, 0.0, 0.0, 1.0))
    base = np.zeros(1)
    for number, options in enumerate(elements):
        passing = options.some(~options.cuts[0])
        ways = [np.array([A, B, C, D])]
        more, bases = [sets], [base]
        if sets.size * (1 + passing.base.size) > _MOST_RUNS:
            raise UnfitError
        for way in range(passing.base.size):
            a, b, c, d = passing.matrices[:, :, way, None]
            ways.append(np.array([A * a + B * c, A * b + B * d, C * a + D * c, C * b + D * d]))
            more.append(sets | 1 << number)
            bases.append(base + passing.base[way])
        A, B, C, D = np.concatenate(ways, axis=2)
        sets, base = np.concatenate(more), np.concatenate(bases)
    order = np.argsort(sets, kind="stable")
    return Passing(sets[order], np.array([A, B, C, D])[..., order], base[order])


def swaps(elements: Sequence[Options]) -> FloatArray:
    """Return the commutators of all pairs of a set, added, shape (4, columns, sets)."""
    size, columns = len(elements), elements[0].matrices.shape[1]
    pairs = np.zeros((size, size, 4, columns))
    passing = [one.some(~one.cuts[0]) for one in elements]
    for first in range(size):
        for second in range(first):
            if passing[first].base.size and passing[second].base.size:
                found = _commutator(passing[first], passing[second])
                pairs[first, second] = pairs[second, first] = found
    total = np.zeros((4, columns, 1))
    for box in range(size):
        with_it = np.zeros((4, columns, 1))
        for other in range(box):
            more = with_it + pairs[box, other, ..., None]
            with_it = np.concatenate((with_it, more), axis=2)
        total = np.concatenate((total, total + with_it), axis=2)
    return total


def _commutator(one: Options, other: Options) -> FloatArray:
    A, B, C, D = one.matrices[..., None]
    a, b, c, d = other.matrices[..., None, :]
    made = np.abs(np.array([B * c - b * C, A * b + B * d - a * B - b * D,
                            C * a + D * c - c * A - d * C, C * b - c * B]))  # fmt: skip
    found: FloatArray = made.reshape(4, len(A), -1).max(axis=2)
    return found
