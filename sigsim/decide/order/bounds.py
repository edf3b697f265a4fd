"""Bounds on what an order loses, from its beginning."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property, partial
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.decide.order.ahead import Ahead
from sigsim.decide.order.nodes import Around, Nodes, around

if TYPE_CHECKING:
    from sigsim.decide.order.level import Line
    from sigsim.decide.order.losses import Together
    from sigsim.decide.order.trial import Trial
    from sigsim.physics.arrays import FloatArray
    from sigsim.states.graph import Index
    from sigsim.states.open_ends import Ends
    from sigsim.states.options import Options

# Columns kept for what loses most, and for what loses least.
_MOST, _LEAST = 4, 2
# So many boxes, the buffer among them, are few.
_FEW: Final = 10


class Bounds:
    """Bounds on the losses of all orders with a beginning, in every view.

    Parameters
    ----------
    losses : of the orders
    trial : which are permitted, and when to end
    """

    def __init__(self, losses: Together, trial: Trial) -> None:
        self.losses, self.mean = losses, losses.question.mean
        self.nodes = Nodes(trial.permitted, losses)
        self.views = [Within(line, self.nodes, trial, losses) for line in losses.lines]

    def root(self) -> float:
        """Return what no order is below [dB]."""
        node = np.zeros(1, np.int64)
        values = [view.least(view.start, node) for view in self.views]
        return float(self.losses.over_views(values)[0])


class Within:
    """Bounds in one view."""

    def __init__(self, line: Line, nodes: Nodes, trial: Trial, losses: Together) -> None:
        self.line, self.start = line, line.start if line.heard else None
        if self.start is None:
            return
        buffer = nodes.size > nodes.count
        self.around: Around = around(line, nodes.count, losses.gaps, buffer=buffer)
        tick = trial.clock.tick
        self._most: Ahead | None = None
        self._whole = partial(Ahead, line, nodes, self.around, tick=tick)
        # In small levels more states are followed, which leave fewer beginnings to be followed.
        self._followed = range(-1, nodes.count if nodes.size <= _FEW else 0)

    @cached_property
    def _least(self) -> list[Ahead]:
        return [self._whole(_held(box), _LEAST, -1) for box in self._followed]

    def least(self, ends: Ends | None, nodes: Index) -> FloatArray:
        """Return what beginnings lose at least [dB], shape (beginnings,), from their nodes."""
        if ends is None:
            return np.full(nodes.size, self.line.constant)
        of_ends = nodes[ends.owner]
        worst = np.max([ahead.reached(ends, of_ends) for ahead in self._least], axis=0)
        return np.fmax(ends.most(worst), self.line.constant)

    def at_most(self, ends: Ends, nodes: Index) -> FloatArray:
        """Return what the ends of beginnings lose at most [dB], shape (ends,)."""
        if self._most is None:
            self._most = self._whole(lambda options, _: options, _MOST, 1)
        return self._most.reached(ends, nodes[ends.owner])


def _held(on: int) -> Callable[[Options, int], Options]:
    """Return what holds all boxes off but one; what cannot be off stays."""

    def chosen(options: Options, element: int) -> Options:
        whole = options.whole
        wanted = whole if element == on else ~whole
        held = np.zeros(wanted.size, bool)
        # A loop is out in its first option.
        last = element == on and bool(wanted.any())
        held[np.flatnonzero(wanted)[-1] if last else wanted.argmax()] = True
        return options.some(held)

    return chosen
