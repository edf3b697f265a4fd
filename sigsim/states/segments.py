"""All segments that any state can have, found in one walk from instrument to destination.

An isolator forgets the impedance before it, so a state is a path over isolators: its response in
decibels is the sum of the segments between them, and so is its reference's. A *vertex* is the
instrument (0), an isolator that is on, or the destination (last); an *arrival* holds every segment
that ends at one vertex, as array rows: where each started, what passive things are on along it,
and its decibels. n stages make n + 2 vertices and about n²/2 segments for 2^n states.

Stages that are off but buffered lie inside a segment: they isolate the board but not its
reference, and what follows them is fixed by them. Passive things that switch (a passive stage, a
loop) cannot be summed up: each doubles the open rows, and a split multiplies them by the loads
that it can be.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from sigsim.errors import SigsimError
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.metrics import decibels
from sigsim.physics.source import Load, Source
from sigsim.states.circuit import Circuit
from sigsim.states.distinct import count_states
from sigsim.states.front import Front, Trail, filled, joined
from sigsim.states.path import in_reference
from sigsim.states.ways import ways

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sigsim.board.model import Board
    from sigsim.items.base import Item
    from sigsim.items.cable import Cable
    from sigsim.items.stage import ActiveStage
    from sigsim.metrics import Reference
    from sigsim.physics.arrays import FloatArray

    IntArray: TypeAlias = NDArray[np.int64]


class TooManyRuns(SigsimError):
    """More passive things can be switched in one run than can be carried at once."""


@dataclass(frozen=True)
class Arrival:
    """Every segment that ends at one vertex.

    Attributes
    ----------
    vertex : its number, from 1; 0 for a listener, at which nothing starts
    switch : the isolator's name if it must be switched on to end there
    listener : its key, None for a vertex
    starts : vertex at which each segment starts, shape (rows,)
    trails : what is on along each
    gain : of each segment [dB], shape (rows, frequency)
    ideal : of each segment of the reference [dB], shape (rows, reference frequency)
    """

    vertex: int
    switch: str | None
    starts: IntArray
    trails: list[Trail | None]
    gain: FloatArray
    ideal: FloatArray
    listener: int | None = None


@dataclass(frozen=True)
class Listener:
    """An input that is tried at a place without being there: it ends segments and loads nothing.

    Attributes
    ----------
    key : to tell it by
    before : the cable that would come before it, or None
    stage : whose input it is
    """

    key: int
    before: Cable | None
    stage: ActiveStage


Prune: TypeAlias = Callable[[Front], Front]


class Walk:
    """One walk over a board.

    Parameters
    ----------
    board : the board
    frequency : [Hz], shape (frequency,)
    ideal_frequency : where the ideal reference is followed [Hz]; None for the fixed reference
    fixed : things held on (True) or off (False); all others vary
    prune : called when more rows are open than `most_rows`; returns those to go on with
    most_rows : how many open segments are carried before `prune` is called
    listeners : by the number of items of the chain that come before them
    reference : which of those that keep the stages that are on is followed
    alike : whether states that differ only where it is not heard, behind the first isolator of a
        split, are rows of their own; else the first of them stands for all
    """

    def __init__(
        self,
        board: Board,
        frequency: FloatArray,
        ideal_frequency: FloatArray | None = None,
        fixed: Mapping[str, bool] | None = None,
        prune: Prune | None = None,
        most_rows: int = 1 << 16,
        listeners: Mapping[int, Listener] | None = None,
        reference: Reference = "ideal",
        alike: bool = False,
    ) -> None:
        self.reference: Reference = reference
        self.alike = alike
        self.circuit = Circuit(board, frequency)
        self.ideal = None if ideal_frequency is None else Circuit(board, ideal_frequency)
        self.fixed = fixed or {}
        self.prune = prune
        self.most_rows = most_rows
        self.listeners = listeners or {}
        self.vertices = 1
        self.front = self._started(
            self.circuit.start, None if self.ideal is None else self.ideal.start, 0
        )

    def arrivals(self) -> Iterator[Arrival]:
        """Yield the arrivals at every vertex in chain order, the destination last."""
        for index, item in enumerate(self.circuit.board.chain):
            yield from self._heard(index)
            yield from self._walk((item,))
        yield from self._heard(len(self.circuit.board.chain))
        ideal_load = Load(0.0) if self.ideal is None else self.ideal.load
        yield self._arrival(None, self.circuit.load, ideal_load)

    def _heard(self, index: int) -> Iterator[Arrival]:
        """Yield what a listener at a place of the chain would hear."""
        listener = self.listeners.get(index)
        if listener is None:
            return
        front, vertices = self.front, self.vertices
        if listener.before is not None:
            self.front = self._passed(listener.before, True, front)
        heard = self._arrival(None, *self._inputs(listener.stage))
        yield replace(heard, vertex=0, listener=listener.key)
        self.front, self.vertices = front, vertices

    def _walk(self, items: tuple[Item, ...]) -> Iterator[Arrival]:
        for item in items:
            held = self._held(item)
            if isinstance(item, Loop):
                yield from self._loop(item, held)
            elif isinstance(item, Split):
                self.front = self._split(item, self.front)
            else:
                yield from self._item(item, held)
            if self.front.rows > self.most_rows:
                self.front = self._pruned(self.front)

    def _held(self, item: Item) -> bool | None:
        """Return whether an item is held on or off, None if it varies."""
        return True if item.switch is None else self.fixed.get(item.switch)

    def _loop(self, loop: Loop, held: bool | None) -> Iterator[Arrival]:
        before = self.front
        if held is False:
            self.front = self._out(loop, before)
            return
        self.front = before.with_on(loop.loop)
        yield from self._walk(loop.inside)
        if held is None:
            self.front = self._out(loop, before).joined(self.front)

    def _out(self, loop: Loop, before: Front) -> Front:
        """Return the rows behind a loop that is out."""
        front = self._passed(loop, False, before)
        for item in loop.outside:
            front = self._split(item, front)
        return front

    def _split(self, split: Split, before: Front) -> Front:
        """Return the rows behind a split: those before it with each load that it can be."""
        states = count_states(split.inside, self.fixed) if self.alike else 0
        if self.prune is None and states * before.rows > self.most_rows:
            raise self._too_many(states * before.rows)
        fronts: list[Front] = []
        open_rows = 0
        for way in ways(split, self.fixed):
            behind = self._passed(way.load(split), True, before)
            states_on = way.states(self.fixed) if self.alike else [way.first(self.fixed)]
            fronts += [behind.with_on(*on) for on in states_on]
            open_rows += before.rows
            if open_rows > self.most_rows:
                fronts = [self._pruned(joined(fronts))]
                open_rows = fronts[0].rows
        return joined(fronts)

    def _item(self, item: Item, held: bool | None) -> Iterator[Arrival]:
        before = self.front
        off = None if held is True else self._passed(item, False, before)
        if held is not False:
            if item.isolates(True):
                yield self._arrival(item.switch, *self._inputs(item))
                on = self._behind(item)
            else:
                entered = before if item.switch is None else before.with_on(item.switch)
                on = self._passed(item, True, entered)
            self.front = on if off is None else off.joined(on)
        elif off is not None:
            self.front = off

    @np.errstate(all="ignore")
    def _arrival(self, switch: str | None, load: Load, ideal_load: Load) -> Arrival:
        front, vertex = self.front, self.vertices
        self.vertices += 1
        gain = decibels(load.reads(front.seen))
        ideal = np.zeros((front.rows, 0))
        if self.ideal is not None:
            ideal = decibels(ideal_load.reads(front.ideal))
        return Arrival(vertex, switch, front.starts, front.trails, gain, ideal)

    @np.errstate(all="ignore")
    def _inputs(self, item: Item) -> tuple[Load, Load]:
        """Return the input of an isolator, in the board and in its reference."""
        ideal = 0.0 if self.ideal is None else self.ideal.step(item, True).input
        return Load(self.circuit.step(item, True).input), Load(ideal)

    @np.errstate(all="ignore")
    def _behind(self, item: Item) -> Front:
        """Return the one open segment that starts behind an isolator."""
        ideal = None if self.ideal is None else self.ideal.step(item, True).output
        return self._started(self.circuit.step(item, True).output, ideal, self.vertices - 1)

    def _started(self, seen: Source, ideal: Source | None, vertex: int) -> Front:
        size = 0 if self.ideal is None else self.ideal.frequency.size
        return Front(
            filled(seen, (1, self.circuit.frequency.size)),
            filled(ideal or Source(1.0, 0.0), (1, size)),
            np.array([vertex]),
            [None],
        )

    @np.errstate(all="ignore")
    def _passed(self, item: Item, on: bool, front: Front) -> Front:
        """Return the rows behind an item that does not end a segment."""
        seen = self.circuit.step(item, on).drive(front.seen)
        ideal = front.ideal
        if self.ideal is not None and in_reference(item, on, self.reference):
            ideal = self.ideal.step(item, on).drive(front.ideal)
        return replace(
            front,
            seen=filled(seen, np.shape(front.seen.E)),
            ideal=filled(ideal, np.shape(front.ideal.E)),
        )

    def _pruned(self, front: Front) -> Front:
        if self.prune is None:
            raise self._too_many(front.rows)
        return self.prune(front)

    def _too_many(self, rows: int) -> TooManyRuns:
        return TooManyRuns(
            "too many passive things can be switched in one run",
            found=f"{rows} different runs",
            accepted=f"at most {self.most_rows}; hold some of them on or off",
        )


def ideal_grid(frequency: FloatArray, reference: Reference) -> FloatArray | None:
    """Return where a walk must follow the reference: nowhere for the fixed one."""
    return None if reference == "direct" else frequency
