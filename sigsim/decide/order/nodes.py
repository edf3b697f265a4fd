"""How far a beginning has come: which boxes stand before, and whether the buffer was the last."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sigsim.decide.order.level import PLAIN
from sigsim.states.disks import Disks, enclosures
from sigsim.states.graph import Bundle, Choice, Graph

if TYPE_CHECKING:
    from sigsim.decide.order.level import Line
    from sigsim.decide.order.losses import Together
    from sigsim.decide.order.permitted import Permitted
    from sigsim.physics.arrays import ComplexArray
    from sigsim.states.graph import Index
    from sigsim.states.options import Options

# Groups of disks at a point.
_GROUPS = 4


class Step(NamedTuple):
    """One thing that is put behind beginnings.

    Attributes
    ----------
    junction, gap, element : see `Line.step`
    tails, heads : the nodes of the beginnings, without it and with it
    """

    junction: int
    gap: int
    element: int
    tails: Index
    heads: Index


class Nodes:
    """Every node that is the beginning of a permitted order.

    Parameters
    ----------
    permitted : the orders
    losses : of these

    Attributes
    ----------
    layers : the nodes behind each number of things
    """

    def __init__(self, permitted: Permitted, losses: Together) -> None:
        self.permitted, self.gaps = permitted, losses.gaps
        self.count, self.size = permitted.count, permitted.size
        self.sets = 1 << self.size
        self.last = self.sets - 1
        numbers = np.arange(self.sets)
        self.things = sum((numbers >> one & 1) for one in range(self.size))
        self.layers: list[list[Step]] = []
        here = np.zeros(1, np.int64)
        for _ in range(self.size):
            steps = list(self._steps(here))
            self.layers.append(steps)
            here = np.unique(np.concatenate([step.heads for step in steps]))

    def junction(self, nodes: Index) -> Index:
        """Return how many boxes come before."""
        return self.permitted.sets[nodes % self.sets]

    def gap(self, nodes: Index) -> Index:
        """Return where the buffer was put if that came last, else `PLAIN`."""
        gap: Index = nodes // self.sets + PLAIN
        return gap

    def _steps(self, here: Index) -> Iterator[Step]:
        sets, junction, gap = here % self.sets, self.junction(here), self.gap(here)
        for element in range(self.size):
            good = self.permitted.may_lead(sets, element)
            for place, behind in sorted(
                set(zip(junction[good].tolist(), gap[good].tolist(), strict=True))
            ):
                tails = here[good & (junction == place) & (gap == behind)]
                heads = tails % self.sets | 1 << element
                if element < self.count:
                    yield Step(place, behind, element, tails, heads)
                    continue
                for own in self.gaps[place]:
                    yield Step(place, behind, element + own, tails, heads + (own + 1) * self.sets)


class Around(NamedTuple):
    """What can be met at each point, by how many boxes come before and where the buffer stands.

    Attributes
    ----------
    before : impedances of what can come before [Ω]
    behind : admittances of what can follow [S]
    """

    before: dict[tuple[int, int], Disks]
    behind: dict[tuple[int, int], Disks]


def around(line: Line, count: int, gaps: list[tuple[int, ...]], *, buffer: bool) -> Around:
    """Return what can be met at each point of a level, in any order, some boxes twice."""
    points = [(k, gap) for k in range(count + 1) for gap in (PLAIN, *(gaps[k] if buffer else ()))]
    number = {point: index for index, point in enumerate(points)}
    last = len(points)
    bundles = []
    for (k, gap), node in number.items():
        if gap == PLAIN and buffer:
            for own in gaps[k]:
                bundles.append(_bundle(node, number[k, own], line.step(k, gap, count + own)))
        if k == count:
            bundles.append(_bundle(node, last, line.joint_end(gap)))
            continue
        for box in range(count):
            bundles.append(_bundle(node, number[k + 1, PLAIN], line.step(k, gap, box)))
    bundles.sort(key=lambda bundle: (bundle.head, bundle.tail))
    one = np.ones_like(line.start.Z[:, 0])
    graph = Graph(
        last + 1, tuple(bundles), np.stack((one, line.start.Z[:, 0])),
        np.stack((one, line.last.Y[:, 0])), {},
    )  # fmt: skip
    behind = enclosures(graph, {last: _each(line.last.Y)}, _GROUPS)
    before = enclosures(graph.turned(), {last: _each(line.start.Z)}, _GROUPS)
    return Around(
        {point: before[last - node] for point, node in number.items()},
        {point: behind[node] for point, node in number.items()},
    )


def _each(values: ComplexArray) -> list[ComplexArray]:
    return list(values.T)


def _bundle(tail: int, head: int, options: Options) -> Bundle:
    choices = (Choice(),) * options.base.size
    return Bundle(tail, head, choices, options.matrices.transpose(0, 2, 1), options.whole)
