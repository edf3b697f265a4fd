"""What some things of a chain can be, as chain matrices that depend on nothing around them.

So they can be put together in any order. A matrix is written with A = 1: what it is larger by is
a number of its own, since it counts the same wherever the matrix stands.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from hashlib import blake2b
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.states.graph import NOTHING

if TYPE_CHECKING:
    from sigsim.items.base import Item
    from sigsim.physics.arrays import ComplexArray, FloatArray
    from sigsim.states.graph import Flags, Index
    from sigsim.states.sides import Sides

# More than this is not put together beforehand.
MOST_OPTIONS: Final = 2048
# What is larger stands for nothing at all, and is left to the exact search.
_LARGE: Final = NOTHING / 1e30
# Impedances are compared in tens of kilohms, admittances in hundreds of microsiemens, to so many
# digits.
_SCALE: Final = np.array([1.0, 1e-4, 1e4, 1.0])
_DIGITS: Final = 11


class UnfitError(Exception):
    """Some things cannot be put together beforehand: too many, or silent at some frequencies."""


class Options(NamedTuple):
    """What can be met in one place.

    Attributes
    ----------
    matrices : A = 1, B, C, D, shape (4, columns, options)
    base : what the factor taken out scores [nepers], shape (options,)
    cuts : whether the board and the reference do not see what comes before, shape (2, options)
    marks : numbers for what each does to the board and the reference, 0 for nothing, the same for
        what is the same; shape (2, options)
    """

    matrices: ComplexArray
    base: FloatArray
    cuts: Flags
    marks: Index

    @property
    def whole(self) -> Flags:
        """Which options neither the board nor the reference sees through, shape (options,)."""
        whole: Flags = self.cuts[0] & self.cuts[1]
        return whole

    def some(self, options: Index | Flags) -> Options:
        """Return some of the options."""
        cuts, marks = self.cuts[:, options], self.marks[:, options]
        return Options(self.matrices[..., options], self.base[options], cuts, marks)


def score(p: ComplexArray) -> FloatArray:
    """Return what 1/H scores: the treble loss [nepers].

    Parameters
    ----------
    p : of the board at the centres of the band and at 100 Hz, then of the reference; shape
        (columns, …)
    """
    power = p.real**2 + p.imag**2
    last = len(power) // 2 - 1
    treble = np.multiply.reduce(power[:last]) / np.multiply.reduce(power[last + 1 : -1])
    found: FloatArray = np.log(treble) / (2 * last) - np.log(power[last] / power[-1]) / 2
    return found


def wire(columns: int) -> Options:
    """Return what changes nothing."""
    matrix = np.array([1.0, 0.0, 0.0, 1.0], dtype=complex)[:, None, None]
    return Options(
        matrix.repeat(columns, axis=1),
        np.zeros(1),
        np.zeros((2, 1), bool),
        np.zeros((2, 1), np.int64),
    )


def options_of(items: Iterable[Item], sides: Sides, fixed: Mapping[str, bool]) -> Options:
    """Return what some things in a row can be.

    Parameters
    ----------
    items : wired
    sides : of the board
    fixed : things held on or off

    Raises
    ------
    UnfitError : they are too many, or nothing comes through
    """
    found = wire(sides.size)
    for item in items:
        found = behind(found, _met(item, sides, fixed))
    return found


def behind(first: Options, second: Options) -> Options:
    """Return some options behind others.

    Raises
    ------
    UnfitError : they are too many, or nothing comes through
    """
    if first.base.size == second.base.size == 1 and not second.marks.any():
        return first
    if first.base.size * second.base.size > MOST_OPTIONS:
        raise UnfitError
    (A, B, C, D), (a, b, c, d) = first.matrices[..., None], second.matrices[..., None, :]
    made = np.stack((A * a + B * c, A * b + B * d, C * a + D * c, C * b + D * d))
    base = (first.base[:, None] + second.base).reshape(-1)
    cuts = (first.cuts[..., None] | second.cuts[:, None]).reshape(2, -1)
    return _distinct(made.reshape(4, len(A), -1), base, cuts)


def _met(item: Item, sides: Sides, fixed: Mapping[str, bool]) -> Options:
    """Return what one thing can be."""
    if isinstance(item, Split):
        matrices = sides.loads(item, fixed)[1]
        return _audible(matrices, np.zeros((2, matrices.shape[1]), bool), sides)
    held = True if item.switch is None else fixed.get(item.switch)
    states = (False, True) if held is None else (held,)
    if not isinstance(item, Loop):
        return _stage(item, states, sides)
    found = []
    if False in states:
        found.append(_stage(item, (False,), sides))
    if True in states:
        found.append(options_of(item.inside, sides, fixed))
    return _beside(found)


def _stage(item: Item, states: Iterable[bool], sides: Sides) -> Options:
    made = [sides.matrix(item, on) for on in states]
    cuts = [(item.isolates(on), sides.cuts(item, on)) for on in states]
    return _audible(np.stack(made, axis=1), np.array(cuts).T, sides)


def _audible(matrices: ComplexArray, cuts: Flags, sides: Sides) -> Options:
    """Return options without those through which nothing comes."""
    made, alive = sides.alive(matrices)
    columns = sides.size
    levels = made[..., [columns // 2 - 1, columns - 1]]
    alive &= (np.abs(levels).max(axis=0) < NOTHING).all(axis=-1)
    kept = made[:, alive]
    if not alive.any() or np.abs(kept).max() > _LARGE:
        raise UnfitError
    return _distinct(kept.transpose(0, 2, 1), np.zeros(len(alive))[alive], cuts[:, alive])


def _beside(parts: list[Options]) -> Options:
    """Return all of several options."""
    if len(parts) == 1:
        return parts[0]
    matrices, base, cuts, marks = (
        np.concatenate(column, axis=-1) for column in zip(*parts, strict=True)
    )
    return _unlike(Options(matrices, base, cuts, marks))


def _distinct(matrices: ComplexArray, base: FloatArray, cuts: Flags) -> Options:
    """Return options with A = 1, of those that are alike but for their size the worst."""
    A = matrices[0]
    with np.errstate(all="ignore"):
        base = base + score(A)
        made = matrices / A
    if not (np.isfinite(made).all() and np.isfinite(base).all()):
        raise UnfitError
    made[0] = 1.0
    half = len(A) // 2
    marks = np.zeros(cuts.shape, np.int64)
    for side, columns in enumerate((slice(0, half), slice(half, None))):
        marks[side] = _marks(made[:, columns], cuts[side])
    return _unlike(Options(made, base, cuts, marks))


def _marks(matrices: ComplexArray, cuts: Flags) -> Index:
    """Return numbers for what options do to a source, shape (options,)."""
    scaled = np.round(matrices * _SCALE[:, None, None], _DIGITS) + 0.0
    plain = ~(scaled[1:3].any(axis=(0, 1)) | (scaled[3] != 1.0).any(axis=0))
    marks = np.empty(cuts.size, np.int64)
    for number in range(cuts.size):
        if plain[number]:
            marks[number] = 0
            continue
        told = scaled[1, :, number] if cuts[number] else scaled[..., number]
        digest = blake2b(np.ascontiguousarray(told).tobytes(), digest_size=8).digest()
        marks[number] = int.from_bytes(digest, "little", signed=True) | 1
    return marks


def _unlike(options: Options) -> Options:
    """Return of options that are alike but for their size the worst."""
    count = options.base.size
    if count == 1:
        return options
    scaled = np.round(options.matrices * _SCALE[:, None, None], _DIGITS) + 0.0
    keys = scaled.reshape(-1, count).T.copy().view(float)
    order = np.argsort(-options.base, kind="stable")
    _, first = np.unique(keys[order], axis=0, return_index=True)
    return options if first.size == count else options.some(np.sort(order[first]))
