"""The graph of a board: one walk over its chain."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.states.graph import Bundle, Choice, Graph
from sigsim.states.sides import Sides, before

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.items.base import Item
    from sigsim.metrics import Reference
    from sigsim.physics.arrays import ComplexArray, FloatArray
    from sigsim.states.graph import Flags


def board_graph(
    board: Board,
    frequency: FloatArray,
    ideal_frequency: FloatArray | None = None,
    fixed: Mapping[str, bool] | None = None,
    reference: Reference = "ideal",
    keep: Iterable[int] = (),
    *,
    silent: bool = False,
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
    silent : whether edges through which nothing at all comes are kept, as attenuation without end

    Returns
    -------
    Graph; without them such edges are left out
    """
    sides = Sides(board, frequency, ideal_frequency, reference, silent=silent)
    return graph_of(sides, fixed or {}, keep)


def graph_of(sides: Sides, fixed: Mapping[str, bool], keep: Iterable[int] = ()) -> Graph:
    """Return the graph of a board over columns that are there already; see `board_graph`."""
    with np.errstate(all="ignore"):
        return _Builder(sides, fixed, frozenset(keep)).graph()


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


class _Options(NamedTuple):
    """What can be met in one place.

    Attributes
    ----------
    matrices : shape (4, options, columns)
    choices : what each stands for
    cuts : whether it isolates, shape (options,)
    """

    matrices: ComplexArray
    choices: list[Choice]
    cuts: Flags


class _Builder:
    """Walks a chain once; what has no switch is multiplied into the options behind it."""

    def __init__(self, sides: Sides, fixed: Mapping[str, bool], keep: frozenset[int]) -> None:
        self.sides, self.fixed, self.keep = sides, fixed, keep
        self.bundles: list[Bundle] = []
        self.nodes = 1
        self.places: dict[int, int] = {}

    def graph(self) -> Graph:
        """Return the graph of the whole chain."""
        point = _Plain(0)
        chain = self.sides.circuits[0].board.chain
        for index, item in enumerate(chain):
            point = self._passed(item, self._kept(index, point))
        point = self._kept(len(chain), point)
        if point.on:
            point = self._joined([point])
        start, end = self.sides.start(), self.sides.end()
        if point.matrix is not None:
            end = before(point.matrix, end)
        start, end = self._told(start), self._told(end)
        bundles = sorted(self.bundles, key=lambda bundle: (bundle.head, bundle.tail))
        return Graph(self.nodes, tuple(bundles), start, end, self.places)

    def _told(self, end: ComplexArray) -> ComplexArray:
        """Return an end without infinities, not a number at all where nothing comes through it."""
        values, alive = self.sides.alive(end[:, None])
        return values[:, 0] if alive[0] else np.full_like(end, np.nan)

    def _kept(self, index: int, point: _Plain) -> _Plain:
        """Make a place of the chain a node, if it is asked for."""
        if index not in self.keep:
            return point
        if point.matrix is not None or point.on:
            point = self._joined([point])
        self.places[index] = point.node
        return point

    def _passed(self, item: Item, point: _Plain) -> _Plain:
        """Return the point behind an item."""
        held = True if item.switch is None else self.fixed.get(item.switch)
        if isinstance(item, Loop):
            return self._loop(item, held, point)
        if isinstance(item, Split):
            return self._added(point, self._split(item))
        return self._added(point, self._met(item, (False, True) if held is None else (held,)))

    def _met(self, item: Item, states: Sequence[bool]) -> _Options:
        named = item.switch is not None and not isinstance(item, Loop)
        return _Options(
            np.stack([self.sides.matrix(item, on) for on in states], axis=1),
            [Choice((item.switch,) if on and named and item.switch else ()) for on in states],
            np.array([self.sides.cuts(item, on) for on in states]),
        )

    def _split(self, split: Split) -> _Options:
        """Return a split as what it can load the line with; the reference does not have it."""
        choices, matrices = self.sides.loads(split, self.fixed)
        return _Options(matrices, choices, np.zeros(len(choices), bool))

    def _loop(self, loop: Loop, held: bool | None, point: _Plain) -> _Plain:
        ends = []
        if held is not True:
            out = self._added(point, self._met(loop, (False,)))
            for split in loop.outside:
                out = self._passed(split, out)
            ends.append(out)
        if held is not False:
            inside = point._replace(on=(*point.on, loop.loop))
            for item in loop.inside:
                inside = self._passed(item, inside)
            ends.append(inside)
        return ends[0] if len(ends) == 1 else self._joined(ends)

    def _added(self, point: _Plain, options: _Options) -> _Plain:
        """Return the point behind options of which one is met."""
        first = options.choices[0]
        if len(options.choices) == 1 and not first.free:
            matrix = _product(point.matrix, options.matrices[:, 0])
            cuts = point.cuts or bool(options.cuts[0])
            return _Plain(point.node, matrix, (*point.on, *first.on), cuts)
        return self._bundled([(point, options)])

    def _joined(self, points: Sequence[_Plain]) -> _Plain:
        """Return one node behind several points."""
        wire = np.array([1.0, 0.0, 0.0, 1.0], dtype=complex)[:, None, None]
        wire = wire.repeat(self.sides.size, axis=2)
        through = _Options(wire, [Choice()], np.zeros(1, bool))
        return self._bundled([(point, through) for point in points])

    def _bundled(self, parts: Sequence[tuple[_Plain, _Options]]) -> _Plain:
        """Return a new node behind options of points; what nothing comes through is left out."""
        head = self.nodes
        self.nodes += 1
        for point, options in parts:
            first = None if point.matrix is None else point.matrix[:, None]
            matrices, alive = self.sides.alive(_product(first, options.matrices))
            if alive.any():
                choices = tuple(
                    choice._replace(on=(*point.on, *choice.on))
                    for choice, lives in zip(options.choices, alive.tolist(), strict=True)
                    if lives
                )
                cuts = options.cuts[alive] | point.cuts
                self.bundles.append(Bundle(point.node, head, choices, matrices[:, alive], cuts))
        return _Plain(head)


def _product(first: ComplexArray | None, second: ComplexArray) -> ComplexArray:
    if first is None:
        return second
    (A, B, C, D), (a, b, c, d) = first, second
    return np.stack((A * a + B * c, A * b + B * d, C * a + D * c, C * b + D * d))
