"""Bounds on the losses of many orders, from those on runs of boxes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.decide.order.following import Following
from sigsim.decide.order.runs import Runs
from sigsim.states.rows import NEPER_DB

if TYPE_CHECKING:
    from collections.abc import Callable

    from sigsim.decide.order.losses import Together
    from sigsim.physics.arrays import FloatArray
    from sigsim.states.graph import Index

# Orders whose bounds are found together.
_TOGETHER: Final = 4096


class Bounded:
    """Bounds on the losses of orders.

    Parameters
    ----------
    losses : of the orders
    size : how many elements there are, with the buffer
    tick : called now and then

    Raises
    ------
    UnfitError : see `Runs`
    """

    def __init__(self, losses: Together, size: int, tick: Callable[[], None]) -> None:
        self.losses, self.size, self.tick = losses, size, tick
        with np.errstate(all="ignore"):
            self.runs = [
                Runs(line, losses, size, tick) if line.heard else None for line in losses.lines
            ]

    def of(self, orders: Index) -> tuple[FloatArray, FloatArray]:
        """Return what orders lose at least and at most [dB], shape (orders, elements)."""
        low, high = np.empty((2, len(orders)))
        for start in range(0, len(orders), _TOGETHER):
            self.tick()
            part = slice(start, start + _TOGETHER)
            values: tuple[list[FloatArray], list[FloatArray]] = [], []
            for line, runs in zip(self.losses.lines, self.runs, strict=True):
                for side, found in enumerate(values):
                    own = np.full(len(orders[part]), line.constant)
                    if runs is not None:
                        own = np.fmax(_walked(runs, orders[part], bool(side)) * NEPER_DB, own)
                    found.append(own)
            low[part], high[part] = (self.losses.over_views(found) for found in values)
        return low, high

    def most(self) -> float:
        """Return what no order loses more than [dB]."""
        values = []
        with np.errstate(all="ignore"):
            for line, runs in zip(self.losses.lines, self.runs, strict=True):
                own = -np.inf if runs is None else Following(runs, self.tick).most() * NEPER_DB
                values.append(np.array([np.fmax(own, line.constant)]))
        return float(self.losses.over_views(values)[0])


class _Ways:
    """The ways in which elements isolate, the same number for each; see `Way`."""

    def __init__(self, runs: Runs) -> None:
        own = [[way for way in runs.ways if way.element == one] for one in range(runs.size)]
        self.most = max(map(len, own))
        shape = runs.size, self.most
        self.input, self.output = np.zeros((2, *shape), np.int64)
        self.base, self.whole = np.full(shape, -np.inf), np.ones(shape, bool)
        for element, ways in enumerate(own):
            for number, way in enumerate(ways):
                at = element, number
                self.input[at], self.output[at] = way.input, way.output
                self.base[at], self.whole[at] = way.base, way.whole


def _walked(runs: Runs, orders: Index, high: bool) -> FloatArray:
    """Return what orders score at most, or at least [nepers]."""
    table = runs.high if high else runs.low
    beside = runs.high_reference if high else runs.low_reference
    ways, length, kinds = _Ways(runs), orders.shape[1], len(beside)
    _, sets, inputs = table.shape
    flat = table.ravel()
    before = np.zeros((length + 1, len(orders)), np.int64)
    before[1:] = np.cumsum(1 << orders.T, axis=0)
    # What an order is open with: what it scored by the kind in the reference, where its row of
    # the table starts, and what stands before it.
    opened: list[tuple[list[FloatArray | float], Index | int, Index | int]] = []
    for output, base in runs.starts:
        own = [base if kind == runs.kind[output] else -np.inf for kind in range(kinds)]
        opened.append((list(own), output * sets * inputs, 0))
    for place in range(length):
        element = orders[:, place]
        made: list[tuple[list[FloatArray | float], Index | int, Index | int]] = []
        for way in range(ways.most):
            input_, output = ways.input[element, way], ways.output[element, way]
            found = _arrived(opened, before[place], input_, flat, inputs, kinds)
            whole = np.max([one + beside[k, input_] for k, one in enumerate(found)], axis=0)
            cut, base = ways.whole[element, way], ways.base[element, way]
            values: list[FloatArray | float] = [
                base + np.where(cut, np.where(runs.kind[output] == k, whole, -np.inf), one)
                for k, one in enumerate(found)
            ]
            made.append((values, output * (sets * inputs), before[place + 1]))
        opened += made
    last = np.full(len(orders), inputs - 1)
    found = _arrived(opened, before[length], last, flat, inputs, kinds)
    worst: FloatArray = np.max([one + beside[k, -1] for k, one in enumerate(found)], axis=0)
    return worst


def _arrived(
    opened: list[tuple[list[FloatArray | float], Index | int, Index | int]],
    before: Index,
    input_: Index,
    flat: FloatArray,
    inputs: int,
    kinds: int,
) -> list[FloatArray]:
    """Return what orders score at inputs that they meet, by the kind in the reference."""
    found = [np.full(len(before), -np.inf) for _ in range(kinds)]
    for values, row, behind in opened:
        scores = flat[(before - behind) * inputs + (row + input_)]
        for kind, value in enumerate(values):
            np.maximum(found[kind], scores + value, out=found[kind])
    return found
