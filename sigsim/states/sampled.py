"""Some states drawn at random and solved segment by segment, for boards with too many to list."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.metrics import decibels
from sigsim.states.circuit import Circuit, in_circuit
from sigsim.states.count import random_state
from sigsim.states.ranked import Measure, Measures

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.items.base import Item
    from sigsim.physics.arrays import FloatArray

SAMPLE: Final = 2048


@dataclass(frozen=True)
class Sample:
    """States drawn at random with their curves and measures.

    Attributes
    ----------
    on : what is on in each
    gain : [dB], shape (states, frequency)
    measures : [dB], shape (measures, states)
    """

    on: tuple[frozenset[str], ...]
    gain: FloatArray
    measures: FloatArray


def draw_states(
    board: Board,
    measures: Sequence[Measure],
    frequency: FloatArray,
    *,
    count: int = SAMPLE,
    seed: int = 1,
    fixed: Mapping[str, bool] | None = None,
) -> Sample:
    """Draw states, each different state as likely as any other, and solve them.

    Parameters
    ----------
    board : the board
    measures : what to take of each
    frequency : of the curves [Hz], shape (frequency,)
    count : how many
    seed : of the random numbers
    fixed : things held on or off

    Returns
    -------
    Sample
    """
    generator = np.random.default_rng(seed)
    states = tuple(random_state(board, generator, fixed) for _ in range(count))
    columns = Measures(measures)
    gains = _Segments(board, np.concatenate((frequency, columns.frequency)), ideal=False)
    gain = np.array([gains.total(on) for on in states])
    ideal = np.zeros((count, columns.frequency.size))
    if columns.follow_ideal:
        ideals = _Segments(board, columns.frequency, ideal=True)
        ideal = np.array([ideals.total(on) for on in states])
    values = columns.of(gain[:, frequency.size :], ideal) + columns.offsets(board)
    return Sample(states, gain[:, : frequency.size], values.T)


class _Segments:
    """The gains of segments, each computed when it is first met and then kept."""

    def __init__(self, board: Board, frequency: FloatArray, *, ideal: bool) -> None:
        self.circuit, self.ideal = Circuit(board, frequency), ideal
        self.kept: dict[tuple[tuple[int, bool], ...], FloatArray] = {}

    def total(self, on: frozenset[str]) -> FloatArray:
        """Return the gain [dB] of a state, shape (frequency,)."""
        total = np.zeros(self.circuit.frequency.size)
        run: list[tuple[Item, bool]] = []
        for item, is_on in in_circuit(self.circuit.board.chain, on):
            if self.ideal and not item.in_ideal(is_on):
                continue
            run.append((item, is_on))
            if item.isolates(is_on):
                total += self._gain(run, ends=True)
                run = run[-1:]
        return total + self._gain(run, ends=False)

    def _gain(self, run: list[tuple[Item, bool]], *, ends: bool) -> FloatArray:
        key = (*((id(item), on) for item, on in run), (0, ends))
        gain = self.kept.get(key)
        if gain is None:
            gain = self.kept[key] = self._solved(run, ends)
        return gain

    def _solved(self, run: list[tuple[Item, bool]], ends: bool) -> FloatArray:
        """Return the gain [dB] from a segment's source to its end's input.

        The first of `run` is the isolator that the segment starts behind, if it is one; the last
        is the isolator that ends it, if one does.
        """
        circuit, source = self.circuit, self.circuit.start
        for item, on in run[:-1] if ends else run:
            source = circuit.step(item, on).drive(source)
            if item.isolates(on):
                source = source._replace(E=getattr(circuit.step(item, on), "g", 1.0))
        Y = getattr(circuit.step(*run[-1]), "Y", 0.0) if ends else circuit.load
        gain: FloatArray = decibels(np.broadcast_to(source.into(Y), circuit.frequency.shape))
        return gain
