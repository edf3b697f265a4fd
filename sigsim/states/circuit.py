"""A board on one grid of frequencies: the steps of every item, made once and used by all states."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np

from sigsim.items.loop import Loop
from sigsim.physics.source import Source, angular

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.items.base import Item
    from sigsim.physics.arrays import ComplexArray, FloatArray, Impedance
    from sigsim.physics.source import Step

Reference: TypeAlias = Literal["ideal", "direct"]
REFERENCES: tuple[Reference, ...] = ("ideal", "direct")


def in_circuit(items: Iterable[Item], on: frozenset[str]) -> Iterator[tuple[Item, bool]]:
    """Yield what the signal meets in a state, in order, each with whether it is on.

    A loop that is in gives way to its contents; one that is out is an item of its own.
    """
    for item in items:
        if isinstance(item, Loop):
            if item.loop in on:
                yield from in_circuit(item.inside, on)
            else:
                yield item, False
        else:
            yield item, item.switch is None or item.switch in on


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
        self.start: Source = board.instrument.source(self.jw)
        self.load: Impedance = board.destination.admittance(self.jw)
        self._steps: dict[tuple[int, bool], Step] = {}

    def step(self, item: Item, on: bool) -> Step:
        """Return what an item does on this grid; the same item is computed once."""
        key = id(item), on
        step = self._steps.get(key)
        if step is None:
            step = self._steps[key] = item.step(self.jw, on)
        return step

    def response(self, on: frozenset[str]) -> ComplexArray:
        """Return H [-] at the destination in a state, shape (…, frequency)."""
        return self._through(in_circuit(self.board.chain, on))

    def reference(self, on: frozenset[str], kind: Reference) -> ComplexArray:
        """Return the reference response [-] for a state, shape (…, frequency)."""
        if kind == "direct":
            return self.direct()
        path = in_circuit(self.board.chain, on)
        return self._through((item, is_on) for item, is_on in path if item.in_ideal(is_on))

    def direct(self) -> ComplexArray:
        """Return the response of the instrument's own lead straight into the destination."""
        lead = self.board.lead
        return self._through([] if lead is None else [(lead, True)])

    def _through(self, path: Iterable[tuple[Item, bool]]) -> ComplexArray:
        """Return the response [-] at the destination behind some items."""
        source = self.start
        # A circuit without any loss is infinite at exactly its resonance: a value, not a warning.
        with np.errstate(divide="ignore", invalid="ignore"):
            for item, is_on in path:
                source = self.step(item, is_on).drive(source)
            H: ComplexArray = np.asarray(source.into(self.load), dtype=complex)
        return H
