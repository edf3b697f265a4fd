"""What is on in the ways through a graph: as bits to list them, as counts to count them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Protocol

import numpy as np

from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.states.distinct import each_state

if TYPE_CHECKING:
    from typing import Any, TypeAlias

    from numpy.typing import NDArray

    from sigsim.items.base import Item
    from sigsim.states.graph import Choice

    # One label for each way: numbers of any kind, shape (ways, …).
    Label: TypeAlias = NDArray[Any]


class Labels(Protocol):
    """What is known of a row beside its circuit: what is on in it."""

    def of(self, choice: Choice) -> Label:
        """Return what an option stands for; each label makes a row of its own."""

    def both(self, one: Label, other: Label) -> Label:
        """Return the labels of ways one after the other."""

    def none(self) -> Label:
        """Return the label of an empty way, of one row."""


class Bits:
    """What is on as bits; every state makes a row of its own.

    Parameters
    ----------
    names : of all switches, the first one is the lowest bit; at most 63
    fixed : things held on or off
    """

    def __init__(self, names: Sequence[str], fixed: Mapping[str, bool]) -> None:
        self.bit = {name: 1 << place for place, name in enumerate(names)}
        self.fixed = fixed

    def of(self, choice: Choice) -> Label:
        """Return the bits of every state that an option stands for."""
        own = sum(self.bit[name] for name in choice.on)
        states = each_state(choice.free, self.fixed)
        return np.array([own + sum(self.bit[name] for name in on) for on in states], np.uint64)

    def both(self, one: Label, other: Label) -> Label:
        """Return what is on in either."""
        return one | other

    def none(self) -> Label:
        """Return nothing on."""
        return np.zeros(1, np.uint64)


class Counts:
    """How many states a row stands for, then in how many of these each switch is on.

    All that sounds alike is one row. There may be at most 2^62 states.

    Parameters
    ----------
    names : of the switches to count
    fixed : things held on or off
    """

    def __init__(self, names: Sequence[str], fixed: Mapping[str, bool]) -> None:
        self.place = {name: place for place, name in enumerate(names, 1)}
        self.fixed = fixed

    def of(self, choice: Choice) -> Label:
        """Return the counts of an option."""
        total, counts = on_counts(choice.free, self.fixed)
        label = np.zeros((1, 1 + len(self.place)), np.int64)
        label[0, 0] = total
        for name, count in (*counts.items(), *((name, total) for name in choice.on)):
            if name in self.place:
                label[0, self.place[name]] = count
        return label

    def both(self, one: Label, other: Label) -> Label:
        """Return the counts of ways one after the other: a switch is in one of them."""
        return self.joined(one, other)

    @staticmethod
    def joined(one: Label, other: Label) -> Label:
        """Return the counts of ways one after the other."""
        found: Label = one * other[..., :1]
        found[..., 1:] += other[..., 1:] * one[..., :1]
        return found

    def none(self) -> Label:
        """Return one state with nothing on."""
        return np.eye(1, 1 + len(self.place), dtype=np.int64)


def on_counts(items: Sequence[Item], fixed: Mapping[str, bool]) -> tuple[int, dict[str, int]]:
    """Return how many states some items have, and in how many of these each switch is on.

    Parameters
    ----------
    items : in order
    fixed : things held on or off
    """
    total, counts = 1, dict[str, int]()
    for item in items:
        own, inner = 1, dict[str, int]()
        if isinstance(item, Loop | Split):
            own, inner = on_counts(item.inside, fixed)
        if item.switch is not None:
            held = fixed.get(item.switch)
            if held is False:
                own, inner = 1, {}
            else:
                inner = inner | {item.switch: own}
                own += held is None
        counts = {name: count * own for name, count in counts.items()}
        counts |= {name: count * total for name, count in inner.items()}
        total *= own
    return total, counts
