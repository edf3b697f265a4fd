"""What can still come behind a beginning, at most and at least, whatever the order of the rest.

For each set of boxes that are left a few columns are kept of all that these can be. Of those that
lose most one stands for others that may lose a little more, its slack. In the same way the state
in which all are off, and those in which one is on, are followed through all orders for those that
lose least: no order avoids that.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.states.options import score
from sigsim.states.rows import NEPER_DB
from sigsim.states.seen import Seen

if TYPE_CHECKING:
    from sigsim.decide.order.level import Line
    from sigsim.decide.order.nodes import Around, Nodes, Step
    from sigsim.physics.arrays import ComplexArray, FloatArray
    from sigsim.states.graph import Index
    from sigsim.states.open_ends import Ends
    from sigsim.states.options import Options

# Nodes whose columns are compared at once.
_AT_ONCE: Final = 256
_ROUNDING: Final = 1e-10


class Ahead:
    """The columns that can follow each node and lose most, or least.

    Parameters
    ----------
    line : the view
    nodes : of its level
    around : what can be met at each point
    chosen : the options of each box that are followed, and of the buffer
    most : columns kept at a node
    sign : 1 for those that lose most, -1 for those that lose least
    tick : called now and then
    """

    def __init__(
        self,
        line: Line,
        nodes: Nodes,
        around: Around,
        chosen: Callable[[Options, int], Options],
        most: int,
        sign: int,
        tick: Callable[[], None],
    ) -> None:
        self.line, self.nodes, self.around = line, nodes, around
        self.chosen, self.most, self.sign = chosen, most, sign
        gaps = 1 + max((len(gaps) and max(gaps) + 1) for gaps in nodes.gaps)
        ids = nodes.sets * (gaps if nodes.size > nodes.count else 1)
        columns = len(line.start.Z)
        self.Y = np.zeros((columns, ids, most), complex)
        self.base = np.full((ids, most), -sign * np.inf)
        self.slack = np.zeros((ids, most))
        self._ends()
        for steps in reversed(nodes.layers):
            tick()
            self._layer(steps)

    def _ends(self) -> None:
        nodes = self.nodes
        finals = np.unique(np.concatenate([step.heads for step in nodes.layers[-1]]))
        for final in finals.tolist():
            end = self.line.end(int(nodes.gap(np.array(final))))
            shape = (len(end.Y), 1, end.base.size)
            point = nodes.count, int(nodes.gap(np.array(final)))
            kept = self._thinned(
                end.Y.reshape(shape), end.base[None], np.zeros((1, end.base.size)), point
            )
            self._keep(np.array([final]), *kept)

    def _keep(self, ids: Index, Y: ComplexArray, base: FloatArray, slack: FloatArray) -> None:
        count = base.shape[1]
        self.Y[:, ids, :count], self.base[ids, :count] = Y, base
        self.slack[ids, :count] = slack

    def _layer(self, steps: Sequence[Step]) -> None:
        """Find the columns at the tails of some steps from those at their heads."""
        points = sorted({(step.junction, step.gap) for step in steps})
        for point in points:
            own = [step for step in steps if (step.junction, step.gap) == point]
            tails = np.unique(np.concatenate([step.tails for step in own]))
            for start in range(0, tails.size, _AT_ONCE):
                self._some(own, tails[start : start + _AT_ONCE], point)

    def _some(self, steps: Sequence[Step], tails: Index, point: tuple[int, int]) -> None:
        found = []
        for step in steps:
            good = (step.tails >= tails[0]) & (step.tails <= tails[-1])
            here = np.searchsorted(tails, step.tails[good])
            if here.size:
                options = self.chosen(self.line.step(*step[:3]), step.element)
                found.append((here, *self._before(options, step.heads[good])))
        width = sum(part[2].shape[1] for part in found)
        Y = np.zeros((len(self.Y), tails.size, width), complex)
        base = np.full((tails.size, width), -self.sign * np.inf)
        slack = np.zeros((tails.size, width))
        place = 0
        for here, own_Y, own_base, own_slack in found:
            part = slice(place, place + own_base.shape[1])
            Y[:, here, part], base[here, part], slack[here, part] = own_Y, own_base, own_slack
            place = part.stop
        self._keep(tails, *self._thinned(Y, base, slack, point))

    def _before(
        self, options: Options, heads: Index
    ) -> tuple[ComplexArray, FloatArray, FloatArray]:
        """Return the columns before options of which those at some nodes follow."""
        _, B, C, D = options.matrices[:, :, None, :, None]
        Y, base, slack = self.Y[:, heads, None], self.base[heads, None], self.slack[heads, None]
        r = 1.0 + B * Y
        seen = (C + D * Y) / r
        base = base + score(r) + options.base[:, None]
        slack = np.broadcast_to(slack, base.shape)
        whole = options.whole
        count = heads.size
        parts = [(
            seen[:, :, ~whole].reshape(len(Y), count, -1),
            base[:, ~whole].reshape(count, -1), slack[:, ~whole].reshape(count, -1),
        )]  # fmt: skip
        if whole.any():
            # All that follows an isolator is seen alike before it.
            worst = self.sign * (self.sign * base[:, whole]).max(axis=2)
            outer = (self.sign * base[:, whole] + slack[:, whole]).max(axis=2)
            parts.append((seen[:, :, whole, 0], worst, np.nan_to_num(outer - self.sign * worst)))
        made = [np.concatenate(column, axis=-1) for column in zip(*parts, strict=True)]
        return made[0], made[1], made[2]

    def _thinned(
        self, Y: ComplexArray, base: FloatArray, slack: FloatArray, point: tuple[int, int]
    ) -> tuple[ComplexArray, FloatArray, FloatArray]:
        """Return a few columns at each node that stand for all; see `Ahead`."""
        if base.shape[1] == 1:
            return Y, base, slack
        seen = Seen.over(Y, base, self.around.before[point])
        lead = np.where(np.isfinite(base), self.sign * seen.lead, -np.inf)
        Y, base, slack = _few(seen._replace(lead=lead), Y, base, slack, self.most)
        return Y, np.where(np.isnan(base), -self.sign * np.inf, base), slack

    def reached(self, ends: Ends, nodes: Index) -> FloatArray:
        """Return what beginnings lose at most, or at least [dB], shape (ends,).

        Parameters
        ----------
        ends : of beginnings
        nodes : of each end
        """
        found = np.full(ends.base.size, -self.sign * np.inf)
        for column in range(self.most):
            base = self.base[nodes, column]
            some = np.flatnonzero(np.isfinite(base))
            if not some.size:
                continue
            Y = self.Y[:, nodes[some], column]
            value = score(1.0 + ends.Z[:, some] * Y) + base[some]
            value += self.sign * (self.slack[nodes[some], column] + _ROUNDING)
            found[some] = self.sign * np.maximum(self.sign * found[some], self.sign * value)
        return (found + ends.base) * NEPER_DB


def _few(
    seen: Seen, Y: ComplexArray, base: FloatArray, slack: FloatArray, most: int
) -> tuple[ComplexArray, FloatArray, FloatArray]:
    count, width = base.shape
    row = np.arange(count)
    left = np.isfinite(base)
    promise = np.where(left, seen.lead.sum(axis=0) / len(seen.lead) + slack, -np.inf)
    promise = np.where(np.isnan(promise), np.inf, promise)
    picks, needs = [], []
    for _ in range(min(most, width)):
        one = np.where(left, promise, -np.inf).argmax(axis=1)
        apart = seen.apart((row, one, None), ())
        short = apart - (seen.lead[:, row, one, None] - seen.lead)
        need = slack + np.nan_to_num(short.max(axis=0), nan=np.inf)
        left &= need > slack[row, one, None]
        left[row, one] = False
        picks.append(one)
        needs.append(need)
        if not left.any():
            break
    pick, need = np.array(picks), np.array(needs)
    own = slack[row, pick]
    if left.any():
        nearest = need.argmin(axis=0)
        least = np.where(left, need.min(axis=0), -np.inf)
        for number in range(len(pick)):
            mine = np.where(nearest == number, least, -np.inf).max(axis=1)
            own[number] = np.maximum(own[number], mine)
    kept = base[row, pick]
    # One that was picked twice stands there once.
    for number in range(1, len(pick)):
        twice = (pick[:number] == pick[number]).any(axis=0)
        for other in range(number):
            same = twice & (pick[other] == pick[number])
            own[other, same] = np.maximum(own[other, same], own[number, same])
        kept[number, twice] = np.nan
    return Y[:, row, pick].transpose(0, 2, 1), kept.T, own.T
