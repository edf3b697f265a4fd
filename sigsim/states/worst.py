"""The worst of all states, exactly, without solving each of them.

An isolator forgets the impedance before it, so the loss of a state is a sum over its segments. A
single walk from instrument to destination therefore suffices. It carries a *front*: every passive
history that can still matter, as one row of a pair of sources (the board's and its reference's),
with the loss that earlier segments have added up. Where a stage may be on, all rows end in it;
of these only the best can be part of the answer, and one new row starts behind it. This is the
shortest path over last-isolator positions, with all open paths advanced at once as array rows:
n stages cost about n²/2 row steps for 2^n states.

What switches without isolating (a passive stage, a loop whose contents stay passive) cannot be
summed up and doubles the rows between two isolators. `MOST_ROWS` bounds them; past it the rows
with the least promise are dropped and the result says that it is no longer proven.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.items.loop import Loop
from sigsim.metrics import TREBLE_BAND, decibels, third_octaves
from sigsim.physics.source import Isolator, Source
from sigsim.states.circuit import Circuit, Reference

if TYPE_CHECKING:
    from collections.abc import Iterable

    from sigsim.board.model import Board
    from sigsim.items.base import Item
    from sigsim.physics.arrays import ComplexArray, FloatArray, Impedance

MOST_ROWS: Final = 1 << 16


@dataclass(frozen=True)
class Extreme:
    """The state with the largest (or least) additive loss.

    Attributes
    ----------
    on : the names of what is on
    loss : its mean loss [dB]
    exact : whether every state was covered
    """

    on: frozenset[str]
    loss: float
    exact: bool


@dataclass
class _Front:
    """Open paths as rows: sources of board and reference, summed loss, and what was switched on.

    `seen` and `ideal` hold shapes (rows, frequency); `picks` are linked lists of names.
    """

    seen: Source
    ideal: Source
    loss: FloatArray
    picks: list[_Pick | None]

    @property
    def rows(self) -> int:
        return len(self.picks)

    def kept(self, rows: Iterable[int] | np.ndarray) -> _Front:
        index = np.asarray(rows)
        return _Front(
            Source(*(np.asarray(part)[index] for part in self.seen)),
            Source(*(np.asarray(part)[index] for part in self.ideal)),
            self.loss[index],
            [self.picks[i] for i in index],
        )

    def with_on(self, name: str | None) -> _Front:
        """Return the rows with one more thing on; None changes nothing."""
        if name is None:
            return self
        picks: list[_Pick | None] = [_Pick(name, pick) for pick in self.picks]
        return _Front(self.seen, self.ideal, self.loss, picks)


@dataclass(frozen=True, slots=True)
class _Pick:
    name: str
    before: _Pick | None


class Search:
    """A search for the state with the most mean loss over a few frequencies.

    Parameters
    ----------
    board : the board
    frequency : where the loss is averaged [Hz]
    reference : what the loss is measured against
    sign : 1 for the most loss, -1 for the least
    """

    def __init__(
        self, board: Board, frequency: FloatArray, reference: Reference, sign: int = 1
    ) -> None:
        self.circuit = Circuit(board, frequency)
        self.track_ideal = reference == "ideal"
        self.sign = sign
        self.exact = True

    def run(self) -> Extreme:
        """Return the extreme state; its loss is not a number where every state is silent."""
        front = self._walk(self.circuit.board.chain, self._start())
        front = self._ended(front, self.circuit.load)
        total = front.loss
        if not self.track_ideal:
            with np.errstate(invalid="ignore"):
                total = total + np.mean(decibels(self.circuit.direct()))
        best = self._best(total)
        on = frozenset(_names(front.picks[best]))
        return Extreme(self.circuit.board.heard(on), float(total[best]), self.exact)

    def _start(self) -> _Front:
        E, Z = np.broadcast_arrays(*self.circuit.start)
        start = Source(np.atleast_2d(E), np.atleast_2d(Z))
        return _Front(start, start, np.zeros(1), [None])

    def _walk(self, items: tuple[Item, ...], front: _Front) -> _Front:
        for item in items:
            front = self._loop(item, front) if isinstance(item, Loop) else self._item(item, front)
            front = self._bounded(front)
        return front

    def _item(self, item: Item, front: _Front) -> _Front:
        if item.switch is None:
            return self._on(item, front)
        return _joined(self._off(item, front), self._on(item, front, item.switch))

    def _loop(self, loop: Loop, front: _Front) -> _Front:
        entered = front.with_on(loop.loop)
        return _joined(self._off(loop, front), self._walk(loop.inside, entered))

    def _off(self, item: Item, front: _Front) -> _Front:
        return self._passed(item, False, front)

    def _on(self, item: Item, front: _Front, name: str | None = None) -> _Front:
        """Pass an item that is on; behind an isolator one row is left, the best so far."""
        step = self.circuit.step(item, True)
        if not isinstance(step, Isolator):
            return self._passed(item, True, front.with_on(name))
        front = self._ended(front, step.Y)
        best = front.kept([self._best(front.loss)]).with_on(name)
        # The reference has the same gain: only against a fixed reference does it count.
        E = self._source(1.0 if self.track_ideal else step.g)
        behind = Source(E, self._source(step.Z))
        return _Front(behind, behind, best.loss, best.picks)

    def _passed(self, item: Item, on: bool, front: _Front) -> _Front:
        step = self.circuit.step(item, on)
        seen = _filled(step.drive(front.seen), front.rows)
        ideal = front.ideal
        if self.track_ideal and item.in_ideal(on):
            ideal = _filled(step.drive(front.ideal), front.rows)
        return _Front(seen, ideal, front.loss, front.picks)

    def _ended(self, front: _Front, Y: Impedance) -> _Front:
        """Return the rows with this segment's loss added, seen by a load admittance `Y` [S]."""
        taken = -decibels(front.seen.into(Y))
        if self.track_ideal:
            with np.errstate(invalid="ignore"):
                taken = taken + decibels(front.ideal.into(Y))
        return _Front(front.seen, front.ideal, front.loss + taken.mean(axis=-1), front.picks)

    def _source(self, value: object) -> ComplexArray:
        shape = (1, self.circuit.frequency.size)
        filled: ComplexArray = np.broadcast_to(np.asarray(value, dtype=complex), shape)
        return filled

    def _best(self, loss: FloatArray) -> int:
        """Return the row with the most (least) loss; a silent row only if all are."""
        ranked = np.where(np.isnan(loss), -np.inf, self.sign * loss)
        return int(np.argmax(ranked))

    def _bounded(self, front: _Front) -> _Front:
        if front.rows <= MOST_ROWS:
            return front
        self.exact = False
        promise = self.sign * self._ended(front, self.circuit.load).loss
        promise = np.where(np.isnan(promise), -np.inf, promise)
        return front.kept(np.sort(np.argpartition(-promise, MOST_ROWS // 2)[: MOST_ROWS // 2]))


def worst(
    board: Board, reference: Reference = "ideal", band: tuple[float, float] = TREBLE_BAND
) -> Extreme:
    """Return the state with the largest treble loss of all.

    Parameters
    ----------
    board : the board
    reference : what the loss is measured against
    band : of the treble loss [Hz]

    Returns
    -------
    Extreme; of states with equal loss the one with the least on
    """
    return Search(board, third_octaves(*band), reference).run()


def _joined(one: _Front, two: _Front) -> _Front:
    return _Front(
        Source(*(np.concatenate(pair) for pair in zip(one.seen, two.seen, strict=True))),
        Source(*(np.concatenate(pair) for pair in zip(one.ideal, two.ideal, strict=True))),
        np.concatenate((one.loss, two.loss)),
        one.picks + two.picks,
    )


def _filled(source: Source, rows: int) -> Source:
    E, Z = np.broadcast_arrays(*source)
    shape = (rows, E.shape[-1])
    return Source(np.broadcast_to(E, shape), np.broadcast_to(Z, shape))


def _names(pick: _Pick | None) -> Iterable[str]:
    while pick is not None:
        yield pick.name
        pick = pick.before
