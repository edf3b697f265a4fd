"""What is asked of states in bins, and the answers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from sigsim.physics.arrays import FloatArray
    from sigsim.states.graph import Index


@dataclass(frozen=True)
class Wish:
    """What is asked of the states in which a switch is on or off.

    Attributes
    ----------
    switch : its place in labels, 0 for all states
    on : whether it is on
    rank : of which state in order the value is wanted; 0 to count the values below a limit
    limit : that limit [dB]
    """

    switch: int = 0
    on: bool = True
    rank: int = 0
    limit: float = 0.0

    def of(self, counts: Index) -> Index:
        """Return the counts of these states, from shape (1 + switches, …)."""
        own: Index = counts[self.switch] if self.on else counts[0] - counts[self.switch]
        return own


class Place(NamedTuple):
    """Where the answer to a wish is.

    Attributes
    ----------
    bin : which one
    below : how many of the states asked for lie below that
    """

    bin: int
    below: int


def placed(wish: Wish, counts: Index, limit: int, below: int = 0) -> Place:
    """Return in which of some bins the answer to a wish is.

    Parameters
    ----------
    wish : what is asked for
    counts : what is in the bins, shape (1 + switches, bins)
    limit : the bin of its limit
    below : how many of its states lie below all of these
    """
    own = wish.of(counts)
    upto = np.cumsum(own)
    number = int(np.searchsorted(upto, wish.rank - below)) if wish.rank else limit
    return Place(number, below + int(upto[number] - own[number]))


def in_order(parts: Sequence[tuple[FloatArray, Index]]) -> tuple[FloatArray, Index]:
    """Return values in order, and the labels of their states, shape (1 + switches, states)."""
    if not parts:
        return np.zeros(0), np.zeros((0, 0), np.int64)
    values, labels = (np.concatenate(some) for some in zip(*parts, strict=True))
    order = np.argsort(values)
    return values[order], labels[order].T


def answer(wish: Wish, place: Place, values: FloatArray, labels: Index) -> float:
    """Return the answer to a wish from what is in its bin, see `in_order`."""
    if not values.size:
        return place.below
    upto = np.cumsum(wish.of(labels))
    if wish.rank:
        return float(values[np.searchsorted(upto, wish.rank - place.below)])
    under = int(np.searchsorted(values, wish.limit))
    return place.below + (int(upto[under - 1]) if under else 0)
