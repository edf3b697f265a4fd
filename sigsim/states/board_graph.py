"""The graph of a board: one walk over its chain."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.physics.source import Load
from sigsim.states.circuit import Circuit
from sigsim.states.graph import NOTHING, Bundle, Choice, Graph
from sigsim.states.loads import loads
from sigsim.states.path import in_reference

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.items.base import Item
    from sigsim.metrics import Reference
    from sigsim.physics.arrays import ComplexArray, FloatArray, Impedance
    from sigsim.physics.source import Source
    from sigsim.states.graph import Flags

# Entries of a chain matrix.
_MATRIX: Final = 4


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


class Sides:
    """The columns of a graph: a board and its reference side by side.

    Parameters
    ----------
    board, frequency, ideal_frequency, reference, silent : see `board_graph`
    """

    def __init__(
        self,
        board: Board,
        frequency: FloatArray,
        ideal_frequency: FloatArray | None,
        reference: Reference,
        *,
        silent: bool = False,
    ) -> None:
        self.silent = silent
        self.circuits = [Circuit(board, frequency)]
        if ideal_frequency is not None:
            self.circuits.append(Circuit(board, ideal_frequency))
        self.reference: Reference = reference

    @property
    def size(self) -> int:
        """How many columns there are."""
        return sum(circuit.frequency.size for circuit in self.circuits)

    def start(self) -> ComplexArray:
        """Return p and q of the instrument, shape (2, columns)."""
        return self._beside([_row(circuit.start) for circuit in self.circuits])

    def end(self) -> ComplexArray:
        """Return r and s of the destination, shape (2, columns)."""
        return self._beside([_column(circuit.load) for circuit in self.circuits])

    def output(self, stage: Item) -> ComplexArray:
        """Return p and q behind a powered stage that is on, shape (2, columns)."""
        return self._beside([_row(circuit.step(stage, True).output) for circuit in self.circuits])

    def input(self, stage: Item) -> ComplexArray:
        """Return r and s of a powered stage that is on, shape (2, columns)."""
        loads = [Load(circuit.step(stage, True).input) for circuit in self.circuits]
        return self._beside([_column(load) for load in loads])

    def matrix(self, item: Item, on: bool) -> ComplexArray:
        """Return the chain matrix of what is met, shape (4, columns)."""
        parts: list[tuple[Impedance, ...]] = []
        for number, circuit in enumerate(self.circuits):
            if number and not in_reference(item, on, self.reference):
                parts.append((1.0, 0.0, 0.0, 1.0))
            elif item.isolates(on):
                step = circuit.step(item, on)
                (E, Z), Y = step.output, step.input
                parts.append((1 / E, Z / E, Y / E, Y * Z / E))
            else:
                parts.append(tuple(circuit.step(item, on).matrix))
        return self._beside(parts)

    def matrices(self, item: Item, fixed: Mapping[str, bool]) -> ComplexArray:
        """Return the chain matrices of what an item without a switch of its own can be."""
        if isinstance(item, Split):
            return self.loads(item, fixed)[1]
        return self.matrix(item, True)[:, None]

    def loads(self, split: Split, fixed: Mapping[str, bool]) -> tuple[list[Choice], ComplexArray]:
        """Return what a split can be to the line, and the matrices, shape (4, options, columns)."""
        found = loads(split, fixed, self.circuits[0])
        wire = np.array([1.0, 0.0, 0.0, 1.0], dtype=complex)[:, None, None]
        matrices = np.broadcast_to(wire, (4, len(found.choices), self.size)).copy()
        matrices[2, :, : found.Y.shape[1]] = found.Y
        return found.choices, matrices

    def cuts(self, item: Item, on: bool) -> bool:
        """Return whether what follows sees neither the board nor the reference before it."""
        alone = len(self.circuits) == 1
        return item.isolates(on) and (alone or in_reference(item, on, self.reference))

    def alive(self, values: ComplexArray) -> tuple[ComplexArray, Flags]:
        """Return matrices, rows or columns without infinities, and which are not silent.

        Where nothing comes at some frequencies alone it takes more than any real part.

        Parameters
        ----------
        values : shape (entries, options, columns)

        Returns
        -------
        the same, and shape (options,)
        """
        good = np.asarray(np.isfinite(values).all(axis=0), dtype=bool)
        if good.all():
            return values, np.ones(values.shape[1], bool)
        sides = np.split(good, [self.circuits[0].frequency.size], axis=1)
        alive = np.all([side.any(axis=1) for side in sides if side.shape[1]], axis=0)
        alive |= self.silent
        nothing = np.zeros((len(values), 1, 1), dtype=complex)
        nothing[[0, -1] if len(values) == _MATRIX else [0]] = NOTHING
        return np.where(good, values, nothing), alive

    def _beside(self, parts: Sequence[tuple[Impedance, ...]]) -> ComplexArray:
        """Return values of each circuit side by side, shape (values, columns)."""
        sides = [
            [np.broadcast_to(np.asarray(v, dtype=complex), (c.frequency.size,)) for v in values]
            for values, c in zip(parts, self.circuits, strict=True)
        ]
        return np.concatenate([np.stack(side) for side in sides], axis=1)


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


def before(matrix: ComplexArray, column: ComplexArray) -> ComplexArray:
    """Return r and s before a chain matrix from those behind it, shape (2, columns)."""
    (A, B, C, D), (r, s) = matrix, column
    return np.stack((A * r + B * s, C * r + D * s))


def behind(row: ComplexArray, matrix: ComplexArray) -> ComplexArray:
    """Return p and q behind a chain matrix from those before it, shape (2, columns)."""
    (p, q), (A, B, C, D) = row, matrix
    return np.stack((p * A + q * C, p * B + q * D))


def _row(source: Source) -> tuple[Impedance, ...]:
    return 1 / source.E, source.Z / source.E


def _column(load: Load) -> tuple[Impedance, ...]:
    """Return r and s of an input, so that 1/H = p·r + q·s."""
    return (1.0, load.Y) if load.share is None else (1 / load.share, load.Y / load.share)


def _product(first: ComplexArray | None, second: ComplexArray) -> ComplexArray:
    if first is None:
        return second
    (A, B, C, D), (a, b, c, d) = first, second
    return np.stack((A * a + B * c, A * b + B * d, C * a + D * c, C * b + D * d))
