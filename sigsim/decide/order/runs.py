"""What every run of boxes that pass can score, whatever order they stand in.

Between two things that isolate lies a set of boxes that do not. Their chain matrices all but
commute: the wires and switches of boxes are small. So a run is scored in one order of its boxes,
and bounds hold for all others: two neighbours that are swapped change 1/H by their commutator.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from sigsim.decide.order.level import PLAIN
from sigsim.states.open_ends import passed
from sigsim.states.options import Options, UnfitError, score
from sigsim.states.seen import weights

if TYPE_CHECKING:
    from sigsim.decide.order.level import Line
    from sigsim.decide.order.losses import Together
    from sigsim.physics.arrays import ComplexArray, FloatArray
    from sigsim.states.graph import Index
    from sigsim.states.open_ends import Columns, Ends

# More runs than this are not scored, nor more kinds of what they lie between.
_MOST_RUNS: Final = 24_000
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
        level = _alike(line, losses, size)
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

    def _kinds(self, level: _Level) -> None:
        start = level.start
        outputs: list[ComplexArray] = [*start.Z.T]
        from_boxes: list[int] = [-1] * len(outputs)
        inputs: list[ComplexArray] = []
        self.starts = [(number, float(base)) for number, base in enumerate(start.base)]
        self.owner: list[int] = []
        self.ways: list[Way] = []
        for element, options in enumerate(level.elements):
            first_out, first_in = len(outputs), len(inputs)
            for number in np.flatnonzero(options.cuts[0]).tolist():
                _, B, C, _ = options.matrices[..., number]
                output = _numbered(outputs, B, first_out, 1e-4)
                input_ = _numbered(inputs, C, first_in, 1e4)
                whole = bool(options.whole[number])
                self.ways.append(Way(element, input_, output, float(options.base[number]), whole))
            from_boxes += [element] * (len(outputs) - first_out)
            self.owner += [element] * (len(inputs) - first_in)
        self.owner.append(self.size)
        if max(len(outputs), len(inputs)) > _MOST_KINDS:
            raise UnfitError
        self._from = from_boxes
        self._Z, self._Y = outputs, inputs

    def _tables(self, elements: Sequence[Options], tick: Callable[[], None]) -> None:
        runs, swaps = _all_runs(elements), _swaps(elements)
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
            source = self._from[output]
            kept = np.flatnonzero(runs.sets >> source & 1 == 0) if source >= 0 else slice(None)
            sets, own = runs.sets[kept], M[..., kept]
            p, q = own[0] + Z[:, None] * own[2], own[1] + Z[:, None] * own[3]
            P, Q = _largest(np.stack((M[0] + Z[:, None] * M[2], M[1] + Z[:, None] * M[3])))
            K = swaps[..., sets]
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


class _Level(NamedTuple):
    """A level whose boxes all have the same before them.

    Attributes
    ----------
    elements : what is met from one box, or the buffer, on to the next and through that
    start : what comes before the level, as if the first box had before it what the others have
    last : what follows the last box
    """

    elements: list[Options]
    start: Ends
    last: Columns


def _alike(line: Line, losses: Together, size: int) -> _Level:
    """Return a level whose boxes all have the same before them.

    Raises
    ------
    UnfitError : they have not
    """
    count, gaps = losses.count, losses.gaps
    if count < 2 or any(len(places) > 1 for places in gaps):
        raise UnfitError
    first, between = line.joint(0, PLAIN, None), line.joint(1, PLAIN, None)
    joints = [line.joint(k, PLAIN, None) for k in range(1, count)]
    elements = [line.step(1, PLAIN, box) for box in range(count)]
    lasts = [line.joint_end(PLAIN)]
    if size > count:
        places = [(k, gap) for k in range(count + 1) for gap in gaps[k]]
        joints += [line.joint(k, gap, None) for k, gap in places if k < count]
        joints += [line.joint(k, PLAIN, gap) for k, gap in places if k]
        lasts += [line.joint_end(gap) for k, gap in places if k == count]
        inner = [(k, gap) for k, gap in places if k]
        if not inner or any(
            not _same(line.joint(k, PLAIN, gap), first) for k, gap in places if not k
        ):
            raise UnfitError
        elements.append(line.step(inner[0][0], PLAIN, count + inner[0][1]))
    if not all(_same(joint, between) for joint in joints) or first.base.size > 1:
        raise UnfitError
    if not all(_same(joint, lasts[0]) for joint in lasts[1:]) or first.cuts.any():
        raise UnfitError
    return _Level(elements, _unwired(passed(line.start, first), between), line.end(PLAIN))


def _same(one: Options, other: Options) -> bool:
    """Return whether both are the same single thing that isolates nothing."""
    if one.base.size > 1 or other.base.size > 1 or one.cuts.any() or other.cuts.any():
        return False
    return np.array_equal(one.matrices, other.matrices) and np.array_equal(one.base, other.base)


def _unwired(ends: Ends, joint: Options) -> Ends:
    """Return what has to come before a joint so that ends come behind it."""
    _, B, C, D = joint.matrices
    p = (D - ends.Z * C) / (D - B * C)
    Z = (ends.Z - B) / (D - ends.Z * C)
    return ends._replace(Z=Z, base=ends.base + score(p) - joint.base)


class _Runs(NamedTuple):
    """Runs of boxes that pass, by their sets.

    Attributes
    ----------
    sets : as bits, shape (runs,)
    matrices : shape (4, columns, runs)
    base : what they score already [nepers]
    """

    sets: Index
    matrices: ComplexArray
    base: FloatArray


def _all_runs(elements: Sequence[Options]) -> _Runs:
    """Return all runs of boxes, each box in each way to pass, in the order of their numbers."""
    columns = elements[0].matrices.shape[1]
    sets = np.zeros(1, np.int64)
    A, B, C, D = (np.full((columns, 1), one, complex) for one in (1.0, 0.0, 0.0, 1.0))
    base = np.zeros(1)
    for number, options in enumerate(elements):
        passing = options.some(~options.cuts[0])
        ways = [np.array([A, B, C, D])]
        more, bases = [sets], [base]
        if sets.size * (1 + passing.base.size) > _MOST_RUNS:
            raise UnfitError
        for way in range(passing.base.size):
            a, b, c, d = passing.matrices[:, :, way, None]
            ways.append(np.array([A * a + B * c, A * b + B * d, C * a + D * c, C * b + D * d]))
            more.append(sets | 1 << number)
            bases.append(base + passing.base[way])
        A, B, C, D = np.concatenate(ways, axis=2)
        sets, base = np.concatenate(more), np.concatenate(bases)
    order = np.argsort(sets, kind="stable")
    return _Runs(sets[order], np.array([A, B, C, D])[..., order], base[order])


def _swaps(elements: Sequence[Options]) -> FloatArray:
    """Return the commutators of all pairs of a set, added, shape (4, columns, sets)."""
    size, columns = len(elements), elements[0].matrices.shape[1]
    pairs = np.zeros((size, size, 4, columns))
    passing = [one.some(~one.cuts[0]) for one in elements]
    for first in range(size):
        for second in range(first):
            if passing[first].base.size and passing[second].base.size:
                found = _commutator(passing[first], passing[second])
                pairs[first, second] = pairs[second, first] = found
    total = np.zeros((4, columns, 1 << size))
    with_one = np.zeros((size, 4, columns, 1 << size))
    for box in range(size):
        low, high = slice(0, 1 << box), slice(1 << box, 2 << box)
        total[..., high] = total[..., low] + with_one[box, ..., low]
        with_one[box + 1 :, ..., high] = (
            with_one[box + 1 :, ..., low] + pairs[box + 1 :, box, ..., None]
        )
    return total


def _commutator(one: Options, other: Options) -> FloatArray:
    A, B, C, D = one.matrices[..., None]
    a, b, c, d = other.matrices[..., None, :]
    made = np.abs(np.array([B * c - b * C, A * b + B * d - a * B - b * D,
                            C * a + D * c - c * A - d * C, C * b - c * B]))  # fmt: skip
    found: FloatArray = made.reshape(4, len(A), -1).max(axis=2)
    return found


def _largest(values: ComplexArray) -> FloatArray:
    found: FloatArray = np.abs(values).max(axis=2)[..., None] * _LARGER
    return found


def _numbered(known: list[ComplexArray], value: ComplexArray, first: int, scale: float) -> int:
    """Return the number of a value among those from one on, and note it if it is new."""
    for number in range(first, len(known)):
        if np.abs(known[number] - value).max() * scale < _ROUNDING:
            return number
    known.append(value)
    return len(known) - 1
