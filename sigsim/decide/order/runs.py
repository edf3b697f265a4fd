"""What every run of boxes that pass can score, whatever order they stand in.

Between two things that isolate lies a set of boxes that do not. Their chain matrices all but
commute: the wires and switches of boxes are small. So a run is scored in one order of its boxes,
and bounds hold for all others: two neighbours that are swapped change 1/H by their commutator.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from sigsim.decide.order.alike import Alike, alike
from sigsim.decide.order.passing import passing_runs, swaps
from sigsim.states.options import Options, UnfitError, score
from sigsim.states.seen import weights

if TYPE_CHECKING:
    from sigsim.decide.order.level import Line
    from sigsim.decide.order.losses import Together
    from sigsim.physics.arrays import ComplexArray, FloatArray
    from sigsim.states.graph import Index

# More kinds of what runs lie between are not told apart.
_MOST_KINDS: Final = 64
# Boxes in other orders make a source or a load of boxes larger by no more than this.
_LARGER: Final = 1.05
# What two outputs may differ by in the reference to count as one kind [nepers].
_ALIKE: Final = 1e-4
# Where bounds are further apart [nepers] they tell too little.
_WIDEST: Final = 1e-3
_ROUNDING: Final = 1e-10


class Way(NamedTuple):
    """How an element isolates.

    Attributes
    ----------
    element : whose way it is
    input, output : the kinds
    base : what it scores [nepers]
    whole : whether the reference does not see through it either
    """

    element: int
    input: int
    output: int
    base: float
    whole: bool


class Runs:
    """Bounds on what all runs of one view score [nepers].

    Parameters
    ----------
    line : the view
    losses : of the orders
    size : how many elements there are, with the buffer
    tick : called now and then

    Attributes
    ----------
    ways : in which elements isolate
    starts : kinds of output of what comes before the level, and what that scores
    owner : the element of each kind of input; the number of elements for what follows
    source : the element of each kind of output; -1 for what comes before the level
    kind : of each kind of output in the reference
    low, high : shape (outputs, sets, inputs); minus infinity for what there is not
    low_reference, high_reference : what the reference scores beside that, by its kinds; shape
        (kinds, inputs)

    Raises
    ------
    UnfitError : what lies between the boxes differs from place to place, or runs are too many
    """

    def __init__(self, line: Line, losses: Together, size: int, tick: Callable[[], None]) -> None:
        self.size, self.sets = size, 1 << size
        level = alike(line, losses, size)
        elements = level.elements
        self.beside = any((one.cuts[0] & ~one.cuts[1]).any() for one in elements)
        if any((one.cuts[1] & ~one.cuts[0]).any() for one in elements) or (
            self.beside and any(one.marks[1, ~one.whole].any() for one in elements)
        ):
            raise UnfitError
        self._half = line.sides.size // 2
        self._kinds(level)
        self._last = level.last
        self._tables(elements, tick)
        self._reference()

    def _kinds(self, level: Alike) -> None:
        start = level.start
        outputs: list[ComplexArray] = [*start.Z.T]
        from_boxes: list[int] = [-1] * len(outputs)
        inputs: list[ComplexArray] = []
        self.starts = [(number, float(base)) for number, base in enumerate(start.base)]
        self.owner: list[int] = []
        self.ways: list[Way] = []
        for element, options in enumerate(level.elements):
            first_out, first_in = len(outputs), len(inputs)
            ways = np.flatnonzero(options.cuts[0])
            # Where the reference is not cut it does not matter what it would be cut into.
            for number in ways[np.argsort(~options.whole[ways], kind="stable")].tolist():
                whole = bool(options.whole[number])
                seen = slice(None) if whole else slice(self._half)
                _, B, C, _ = options.matrices[..., number]
                output = _numbered(outputs, B, first_out, seen, 1e-4)
                input_ = _numbered(inputs, C, first_in, seen, 1e4)
                self.ways.append(Way(element, input_, output, float(options.base[number]), whole))
            from_boxes += [element] * (len(outputs) - first_out)
            self.owner += [element] * (len(inputs) - first_in)
        self.owner.append(self.size)
        if max(len(outputs), len(inputs)) > _MOST_KINDS:
            raise UnfitError
        self.source = from_boxes
        self._Z, self._Y = outputs, inputs

    def _tables(self, elements: Sequence[Options], tick: Callable[[], None]) -> None:
        runs, pairs = passing_runs(elements), swaps(elements)
        M = runs.matrices
        ends: list[tuple[int, ComplexArray, float]] = [
            (number, Y, 0.0) for number, Y in enumerate(self._Y)
        ]
        ends += [
            (len(self._Y), Y, float(b))
            for Y, b in zip(self._last.Y.T, self._last.base, strict=True)
        ]
        shape = len(self._Z), self.sets, len(self._Y) + 1
        self.low, self.high = np.full((2, *shape), -np.inf)
        away = np.abs(weights(len(M[0])))
        behind = [_largest(np.stack((M[0] + M[1] * Y[:, None], M[2] + M[3] * Y[:, None])))
                  for _, Y, _ in ends]  # fmt: skip
        for output, Z in enumerate(self._Z):
            tick()
            source = self.source[output]
            kept = np.flatnonzero(runs.sets >> source & 1 == 0) if source >= 0 else slice(None)
            sets, own = runs.sets[kept], M[..., kept]
            p, q = own[0] + Z[:, None] * own[2], own[1] + Z[:, None] * own[3]
            P, Q = _largest(np.stack((M[0] + Z[:, None] * M[2], M[1] + Z[:, None] * M[3])))
            K = pairs[..., sets]
            U, V = P * K[0] + Q * K[2], P * K[1] + Q * K[3]
            for (number, Y, more), (R, S) in zip(ends, behind, strict=True):
                good = np.flatnonzero(sets >> self.owner[number] & 1 == 0)
                made = p[:, good] + q[:, good] * Y[:, None]
                short = (U[:, good] * R + V[:, good] * S) / np.abs(made)
                if self.beside:
                    made[self._half :] = 1.0
                    short[self._half :] = 0.0
                found = score(made) + runs.base[kept][good] + more
                apart = away @ -np.log1p(-np.minimum(short, 1.0)) + _ROUNDING
                if not (apart < _WIDEST).all():
                    raise UnfitError
                self._worst(self.low[output, :, number], sets[good], found - apart)
                self._worst(self.high[output, :, number], sets[good], found + apart)

    def _worst(self, table: FloatArray, sets: Index, values: FloatArray) -> None:
        # Runs come by their sets.
        starts = np.flatnonzero(np.append(True, sets[1:] != sets[:-1]))
        values = np.maximum.reduceat(values, starts)
        np.maximum(table[sets[starts]], values, out=values)
        table[sets[starts]] = values

    def _reference(self) -> None:
        """Find which kinds of outputs the reference has, where it is not cut where the board is."""
        last = len(self._Y)
        self.kind = np.zeros(len(self._Z), np.int64)
        self.low_reference, self.high_reference = np.zeros((2, 1, last + 1))
        if not self.beside:
            return
        low, high = np.zeros((2, len(self._Z), last + 1))
        Y = np.array(self._Y).T.reshape(-1, last)
        for output, Z in enumerate(self._Z):
            low[output, :last] = high[output, :last] = self._beside(Z, Y)
            found = self._beside(Z, self._last.Y)
            low[output, last], high[output, last] = found.min(), found.max()
        kinds: list[int] = []
        for output in {number for number, _ in self.starts} | {
            way.output for way in self.ways if way.whole
        }:
            near = [k for k in kinds if np.abs(low[output] - low[k]).max() < _ALIKE]
            if not near:
                kinds.append(output)
            self.kind[output] = kinds.index(near[0] if near else output)
            low[kinds[self.kind[output]]] = np.minimum(low[kinds[self.kind[output]]], low[output])
            high[kinds[self.kind[output]]] = np.maximum(
                high[kinds[self.kind[output]]], high[output]
            )
        self.low_reference, self.high_reference = low[kinds], high[kinds]

    def _beside(self, Z: ComplexArray, Y: ComplexArray) -> FloatArray:
        """Return what the reference scores between an output and some inputs."""
        p = 1.0 + Z[:, None] * Y
        p[: self._half] = 1.0
        return score(p)


def _largest(values: ComplexArray) -> FloatArray:
    found: FloatArray = np.abs(values).max(axis=2)[..., None] * _LARGER
    return found


def _numbered(
    known: list[ComplexArray], value: ComplexArray, first: int, seen: slice, scale: float
) -> int:
    """Return the number of a value among those from one on, and note it if it is new."""
    for number in range(first, len(known)):
        if np.abs(known[number] - value)[seen].max() * scale < _ROUNDING:
            return number
    known.append(value)
    return len(known) - 1
