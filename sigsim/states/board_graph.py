"""The graph of a board: one walk over its chain."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.states.circuit import Circuit
from sigsim.states.graph import NOTHING, Bundle, Choice, Graph
from sigsim.states.path import in_reference
from sigsim.states.ways import ways

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.items.base import Item
    from sigsim.metrics import Reference
    from sigsim.physics.arrays import ComplexArray, FloatArray, Impedance
    from sigsim.physics.source import Load


def board_graph(
    board: Board,
    frequency: FloatArray,
    ideal_frequency: FloatArray | None = None,
    fixed: Mapping[str, bool] | None = None,
    reference: Reference = "ideal",
    keep: Iterable[int] = (),
) -> Graph:
    """Return the graph of a board.

    Parameters
    ----------
    board : the board
    frequency : of the first columns [Hz], shape (frequency,)
    ideal_frequency : of the columns of the reference [Hz] behind them; None for no such columns
    fixed : things held on (True) or off (False); all others vary
    reference : which of those that keep the stages that are on is followed
    keep : places of the chain, by how many items come before, that become nodes

    Returns
    -------
    Graph; edges through which nothing at all comes are left out
    """
    circuits = [Circuit(board, frequency)]
    if ideal_frequency is not None:
        circuits.append(Circuit(board, ideal_frequency))
    with np.errstate(all="ignore"):
        return _Builder(circuits, fixed or {}, reference, frozenset(keep)).graph()


class _Plain(NamedTuple):
    """A point behind a node: what lies between them has no switch.

    Attributes
    ----------
    node : behind which it is
    matrix : of what lies between, shape (4, columns), None for nothing
    on : the names of loops that are in there
    cuts : whether an isolator is among it
    """

    node: int
    matrix: ComplexArray | None = None
    on: tuple[str, ...] = ()
    cuts: bool = False


class _Option(NamedTuple):
    matrix: ComplexArray
    choice: Choice
    cuts: bool


class _Builder:
    """Walks a chain once; what has no switch is multiplied into the options behind it."""

    def __init__(
        self,
        circuits: Sequence[Circuit],
        fixed: Mapping[str, bool],
        reference: Reference,
        keep: frozenset[int],
    ) -> None:
        self.circuits, self.fixed, self.reference = circuits, fixed, reference
        self.keep = keep
        self.bundles: list[Bundle] = []
        self.nodes = 1
        self.places: dict[int, int] = {}

    def graph(self) -> Graph:
        """Return the graph of the whole chain."""
        point = _Plain(0)
        chain = self.circuits[0].board.chain
        for index, item in enumerate(chain):
            point = self._passed(item, self._kept(index, point))
        point = self._kept(len(chain), point)
        if point.on:
            point = self._joined([point])
        start = self._columns([(1 / c.start.E, c.start.Z / c.start.E) for c in self.circuits])
        end = self._columns([column(c.load) for c in self.circuits])
        if point.matrix is not None:
            (A, B, C, D), (r, s) = point.matrix, end
            end = np.stack((A * r + B * s, C * r + D * s))
        bundles = sorted(self.bundles, key=lambda bundle: (bundle.head, bundle.tail))
        return Graph(self.nodes, tuple(bundles), start, end, self.places)

    def _kept(self, index: int, point: _Plain) -> _Plain:
        """Make a place of the chain a node, if it is asked for."""
        if index not in self.keep:
            return point
        if point.matrix is not None or point.on:
            point = self._joined([point])
        self.places[index] = point.node
        return point

    def _columns(self, parts: Sequence[tuple[Impedance, ...]]) -> ComplexArray:
        """Return values of each circuit side by side, shape (values, columns)."""
        sides = [
            [np.broadcast_to(np.asarray(v, dtype=complex), (c.frequency.size,)) for v in values]
            for values, c in zip(parts, self.circuits, strict=True)
        ]
        return np.concatenate([np.stack(side) for side in sides], axis=1)

    def _passed(self, item: Item, point: _Plain) -> _Plain:
        """Return the point behind an item."""
        held = True if item.switch is None else self.fixed.get(item.switch)
        if isinstance(item, Loop):
            return self._loop(item, held, point)
        if isinstance(item, Split):
            return self._added(point, list(self._loads(item)))
        on_or_off = (False, True) if held is None else (held,)
        return self._added(point, [self._option(item, on) for on in on_or_off])

    def _option(self, item: Item, on: bool) -> _Option:
        names = (item.switch,) if on and item.switch is not None else ()
        return self._met(item, on, Choice(names))

    def _loads(self, split: Split) -> Iterator[_Option]:
        for way in ways(split, self.fixed):
            yield self._met(way.load(split), True, Choice(way.on, way.free))

    def _met(self, item: Item, on: bool, choice: Choice) -> _Option:
        """Return what the board and its reference meet."""
        parts: list[tuple[Impedance, ...]] = []
        isolates, keeps = item.isolates(on), in_reference(item, on, self.reference)
        for number, circuit in enumerate(self.circuits):
            if number and not keeps:
                parts.append((1.0, 0.0, 0.0, 1.0))
            elif isolates:
                step = circuit.step(item, on)
                (E, Z), Y = step.output, step.input
                parts.append((1 / E, Z / E, Y / E, Y * Z / E))
            else:
                parts.append(tuple(circuit.step(item, on).matrix))
        cuts = isolates and (len(parts) == 1 or keeps)
        return _Option(self._columns(parts), choice, cuts)

    def _loop(self, loop: Loop, held: bool | None, point: _Plain) -> _Plain:
        ends = []
        if held is not True:
            out = self._added(point, [self._met(loop, False, Choice())])
            for split in loop.outside:
                out = self._passed(split, out)
            ends.append(out)
        if held is not False:
            inside = point._replace(on=(*point.on, loop.loop))
            for item in loop.inside:
                inside = self._passed(item, inside)
            ends.append(inside)
        return ends[0] if len(ends) == 1 else self._joined(ends)

    def _added(self, point: _Plain, options: list[_Option]) -> _Plain:
        """Return the point behind options of which one is met."""
        if len(options) == 1 and not options[0].choice.free:
            (one,) = options
            on = (*point.on, *one.choice.on)
            return _Plain(
                point.node, _product(point.matrix, one.matrix), on, point.cuts or one.cuts
            )
        return self._bundled([(point, options)])

    def _joined(self, points: Sequence[_Plain]) -> _Plain:
        """Return one node behind several points."""
        size = sum(circuit.frequency.size for circuit in self.circuits)
        wire = np.array([[1.0], [0.0], [0.0], [1.0]], dtype=complex).repeat(size, axis=1)
        through = [_Option(wire, Choice(), cuts=False)]
        return self._bundled([(point, through) for point in points])

    def _bundled(self, parts: Sequence[tuple[_Plain, list[_Option]]]) -> _Plain:
        """Return a new node behind options of points; what nothing comes through is left out."""
        head = self.nodes
        self.nodes += 1
        for point, options in parts:
            found = []
            for option in options:
                matrix = _finite(_product(point.matrix, option.matrix))
                if matrix is not None:
                    choice = option.choice._replace(on=(*point.on, *option.choice.on))
                    found.append(_Option(matrix, choice, option.cuts or point.cuts))
            if found:
                matrices, choices, cuts = zip(*found, strict=True)
                self.bundles.append(
                    Bundle(point.node, head, choices, np.stack(matrices, axis=1), np.array(cuts))
                )
        return _Plain(head)


def column(load: Load) -> tuple[Impedance, Impedance]:
    """Return r and s of an input, so that 1/H = p·r + q·s."""
    return (1.0, load.Y) if load.share is None else (1 / load.share, load.Y / load.share)


def _product(first: ComplexArray | None, second: ComplexArray) -> ComplexArray:
    if first is None:
        return second
    (A, B, C, D), (a, b, c, d) = first, second
    return np.stack((A * a + B * c, A * b + B * d, C * a + D * c, C * b + D * d))


def _finite(matrix: ComplexArray) -> ComplexArray | None:
    """Return a matrix without infinities, None if nothing comes through at any frequency.

    Where nothing comes at some frequencies alone it takes more than any real part.
    """
    good = np.isfinite(matrix).all(axis=0)
    if good.all():
        return matrix
    if not good.any():
        return None
    return np.where(good, matrix, np.array([[NOTHING], [0.0], [0.0], [NOTHING]]))
