"""States drawn from a graph, each different state as likely as any other, and followed at once.

At each node every drawn state takes one of the options that leave it, each option as likely as the
states are many that it leads to. Those that came alike to a node are followed as one.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.metrics import sounds
from sigsim.states.circuit import Circuit
from sigsim.states.distinct import count_states
from sigsim.states.levels import LEVEL
from sigsim.states.path import path, reference_path
from sigsim.states.quiet import SEEN_OHMS

if TYPE_CHECKING:
    from typing import TypeAlias

    from sigsim.board.model import Board
    from sigsim.items.base import Item
    from sigsim.metrics import Reference
    from sigsim.physics.arrays import ComplexArray, FloatArray
    from sigsim.states.graph import Bundle, Choice, Flags, Graph, Index

    Held: TypeAlias = Mapping[str, bool]

# Values of p that are followed at once.
_AT_ONCE: Final = 1 << 18
# Silent states are looked for among so many drawn ones at a time.
_TRIED: Final = 2048
_LEAST: Final = 1e-300


def states_behind(graph: Graph, fixed: Held) -> list[int]:
    """Return how many states each node of a graph has behind it, the first one all of them."""
    found = [0] * (graph.nodes - 1) + [1]
    for bundle in reversed(graph.bundles):
        ways = sum(count_states(choice.free, fixed) for choice in bundle.choices)
        found[bundle.tail] += ways * found[bundle.head]
    return found


class _Ways(NamedTuple):
    """Partial states at a node.

    Attributes
    ----------
    p, q : of each, shape (ways, columns)
    taken : what p and q are too small by [nepers], shape (ways, columns)
    """

    p: ComplexArray
    q: ComplexArray
    taken: FloatArray

    def behind(self, rows: Index, matrix: ComplexArray) -> _Ways:
        """Return some of them behind a chain matrix."""
        (A, B, C, D), size = _sized(matrix)
        p, q = self.p[rows], self.q[rows]
        return _Ways(p * A + q * C, p * B + q * D, self.taken[rows] + size)

    def cut(self) -> tuple[_Ways, FloatArray]:
        """Return the one way that they are behind a cut, and what each of them has taken."""
        size = np.maximum(np.abs(self.p) + np.abs(self.q) / SEEN_OHMS, _LEAST)
        one = _Ways(self.p[:1] / size[:1], self.q[:1] / size[:1], np.zeros((1, size.shape[1])))
        return one, self.taken + np.log(size)


def _joined(parts: Sequence[_Ways]) -> _Ways:
    if len(parts) == 1:
        return parts[0]
    return _Ways(*(np.concatenate(columns) for columns in zip(*parts, strict=True)))


class Lot:
    """Draws states of a graph.

    Parameters
    ----------
    graph : of a board
    switches : of which it is told whether they are on
    fixed : things held on or off
    generator : of the random numbers
    """

    def __init__(
        self, graph: Graph, switches: Sequence[str], fixed: Held, generator: np.random.Generator
    ) -> None:
        self.graph, self.switches, self.fixed = graph, tuple(switches), fixed
        self.generator = generator
        self.behind = states_behind(graph, fixed)
        self._number = {name: number for number, name in enumerate(self.switches)}

    def heard(self, count: int, total: int) -> Flags:
        """Return which of so many drawn states are in the graph, of a total of states."""
        heard: Flags = self.generator.random(count) < self.behind[0] / total
        return heard

    def drawn(self, count: int) -> tuple[FloatArray, Flags]:
        """Return 1/|H| [nepers] of drawn states, shape (states, columns), and what is on."""
        step = max(1, _AT_ONCE // self.graph.start.shape[1])
        sizes = [min(step, count - start) for start in range(0, count, step)]
        heights, on = zip(*(self._some(size) for size in sizes), strict=True)
        return np.concatenate(heights), np.concatenate(on)

    def _some(self, count: int) -> tuple[FloatArray, Flags]:
        """Draw states that are followed at once; those that came alike to a node are one row."""
        graph, leaving = self.graph, self.graph.leaving()
        p, q = graph.start[:, None]
        height = np.zeros((count, p.shape[1]))
        on = np.zeros((count, len(self.switches)), dtype=bool)
        node, row = (np.zeros(count, dtype=np.int64) for _ in range(2))
        found: dict[int, list[_Ways]] = {0: [_Ways(p, q, np.zeros(p.shape))]}
        for tail in range(graph.nodes - 1):
            here = np.flatnonzero(node == tail)
            if not here.size:
                continue
            ways = _joined(found.pop(tail))
            for bundle, option, states in self._taken(leaving[tail], here):
                rows, which = np.unique(row[states], return_inverse=True)
                behind = ways.behind(rows, bundle.matrices[:, option])
                if bundle.cuts[option]:
                    # All are alike now but for what they have taken.
                    behind, taken = behind.cut()
                    height[states] += taken[which]
                    which = np.zeros_like(which)
                parts = found.setdefault(bundle.head, [])
                row[states] = which + sum(len(part.p) for part in parts)
                node[states] = bundle.head
                parts.append(behind)
                self._switched(on, states, bundle.choices[option])
        ways, (r, s) = _joined(found[graph.nodes - 1]), graph.end
        height += (ways.taken + np.log(np.abs(ways.p * r + ways.q * s)))[row]
        return height, on

    def _taken(self, bundles: Sequence[Bundle], rows: Index) -> Iterator[tuple[Bundle, int, Index]]:
        """Yield the options that leave a node with the drawn states that take them."""
        if not rows.size:
            return
        options = [(bundle, option) for bundle in bundles for option in range(len(bundle.choices))]
        ways = [
            count_states(b.choices[o].free, self.fixed) * self.behind[b.head] for b, o in options
        ]
        # Shares of whole numbers of any size.
        ends = np.cumsum([number / sum(ways) for number in ways])
        ends[np.flatnonzero(ways)[-1] :] = 1.0
        which = np.searchsorted(ends, self.generator.random(rows.size), side="right")
        for number, (bundle, option) in enumerate(options):
            some = rows[which == number]
            if some.size:
                yield bundle, option, some

    def _switched(self, on: Flags, rows: Index, choice: Choice) -> None:
        """Note what is on behind an option, what is free drawn."""
        for name in choice.on:
            if name in self._number:
                on[rows, self._number[name]] = True
        if choice.free:
            self._draw(choice.free, on, rows)

    def _draw(self, items: Sequence[Item], on: Flags, rows: Index) -> None:
        """Draw what is on among some items."""
        for item in items:
            if isinstance(item, Split):
                self._draw(item.inside, on, rows)
            if item.switch is None:
                continue
            held = self.fixed.get(item.switch)
            inside = count_states(item.inside, self.fixed) if isinstance(item, Loop) else 1
            least = {True: 0.0, False: 1.0, None: 1 / (1 + inside)}[held]
            chosen = rows[self.generator.random(rows.size) >= least]
            if item.switch in self._number:
                on[chosen, self._number[item.switch]] = True
            if isinstance(item, Loop):
                self._draw(item.inside, on, chosen)

    def silent(self, board: Board, reference: Reference | None, count: int) -> Flags:
        """Return what is on in drawn states that are silent, shape (states, switches)."""
        circuit = Circuit(board, LEVEL.frequency)
        found: list[Flags] = []
        while len(found) < count:
            on = np.zeros((_TRIED, len(self.switches)), dtype=bool)
            self._draw(board.laid, on, np.arange(_TRIED))
            for flags, names in zip(on, self.names(on), strict=True):
                ways = [path(board.chain, names)]
                if reference is not None:
                    ways.append(reference_path(board, names, reference))
                if not all(sounds(circuit.level(way)).all() for way in ways):
                    found.append(flags)
        return np.array(found[:count])

    def names(self, on: Flags) -> tuple[frozenset[str], ...]:
        """Return the names of what is on in each state."""
        names = np.array(self.switches, dtype=object)
        return tuple(frozenset(names[flags].tolist()) for flags in on)


def _sized(matrix: ComplexArray) -> tuple[ComplexArray, FloatArray]:
    """Return a chain matrix of about 1, and what it is too small by [nepers]."""
    A, B, C, D = np.abs(matrix)
    size = np.maximum.reduce((A, B / SEEN_OHMS, C * SEEN_OHMS, D))
    return matrix / size, np.log(size)
