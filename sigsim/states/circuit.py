"""A board on one grid of frequencies: steps and segments made once and used by all states."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np

from sigsim.items.split import Branch
from sigsim.metrics import decibels
from sigsim.physics.source import Load, Source, angular
from sigsim.states.path import Met, Segment, path, reference_path, segments

if TYPE_CHECKING:
    from typing import TypeAlias

    from sigsim.board.model import Board
    from sigsim.board.state import On
    from sigsim.items.base import Item
    from sigsim.metrics import Reference
    from sigsim.physics.arrays import ComplexArray, FloatArray
    from sigsim.physics.source import Step

    _Key: TypeAlias = tuple[tuple[int, bool], ...]


class Circuit:
    """A board on a grid of frequencies.

    Parameters
    ----------
    board : the board
    frequency : [Hz], shape (frequency,)
    """

    def __init__(self, board: Board, frequency: FloatArray) -> None:
        self.board = board
        self.frequency = np.asarray(frequency, dtype=float)
        self.jw = angular(self.frequency)
        # Of what is infinite or nothing the numbers tell, not a warning.
        with np.errstate(all="ignore"):
            self.start: Source = board.instrument.source(self.jw)
            self.load: Load = board.end.load(self.jw)
        self._steps: dict[tuple[int, bool], Step] = {}
        self._gains: dict[_Key, ComplexArray] = {}
        self._levels: dict[_Key, FloatArray] = {}

    def step(self, item: Item, on: bool) -> Step:
        """Return what an item does on this grid; the same item is computed once."""
        key = id(item), on
        step = self._steps.get(key)
        if step is None:
            with np.errstate(all="ignore"):
                step = self._steps[key] = self._step(item, on)
        return step

    def _step(self, item: Item, on: bool) -> Step:
        # What is inside a split is in the same place in all its branches.
        if isinstance(item, Branch):
            return item.shunt(self.jw, self.step)
        return item.step(self.jw, on)

    def response(self, on: On) -> ComplexArray:
        """Return H [-] at the destination in a state, shape (…, frequency)."""
        return self.through(path(self.board.chain, on))

    def reference(self, on: On, reference: Reference) -> ComplexArray:
        """Return the reference response [-] for a state, shape (…, frequency)."""
        return self.through(reference_path(self.board, on, reference))

    def through(self, met: Iterable[Met]) -> ComplexArray:
        """Return the response [-] at the destination behind some items: its segments' product."""
        gains = [self.gain(segment) for segment in segments(met)]
        H = gains[0]
        # A circuit without any loss is infinite at exactly its resonance: a value, not a warning.
        with np.errstate(all="ignore"):
            for gain in gains[1:]:
                H = H * gain
        return H

    def level(self, met: Iterable[Met]) -> FloatArray:
        """Return the gain [dB] at the destination behind some items: their segments' sum."""
        total = np.zeros(self.frequency.size)
        with np.errstate(invalid="ignore"):
            for segment in segments(met):
                key = _key(segment)
                level = self._levels.get(key)
                if level is None:
                    level = self._levels[key] = decibels(self.gain(segment))
                total = total + level
        return total

    def gain(self, segment: Segment) -> ComplexArray:
        """Return the voltage [-] at a segment's end for 1 V at its begin; computed once.

        It begins at the instrument's coils or at the input of an isolator.
        """
        key = _key(segment)
        gain = self._gains.get(key)
        if gain is None:
            gain = self._gains[key] = self._gain(segment)
        return gain

    def _gain(self, segment: Segment) -> ComplexArray:
        source = self.start if segment.begin is None else self.step(*segment.begin).output
        load = self.load if segment.end is None else Load(self.step(*segment.end).input)
        with np.errstate(all="ignore"):
            for met in segment.run:
                source = self.step(*met).drive(source)
            return np.asarray(load.reads(source), dtype=complex)


def _key(segment: Segment) -> _Key:
    begin, end = segment.begin, segment.end
    first = (0, False) if begin is None else (id(begin.item), begin.on)
    last = (0, False) if end is None else (id(end.item), end.on)
    return (first, *((id(item), on) for item, on in segment.run), last)
