"""Some states drawn at random and solved, for boards with too many to list."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.states.circuit import Circuit
from sigsim.states.distinct import random_state
from sigsim.states.levels import Levelled
from sigsim.states.measure import Measure, Measures
from sigsim.states.path import path, reference_path

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.physics.arrays import FloatArray

SAMPLE: Final = 2048


@dataclass(frozen=True)
class Sample:
    """States drawn at random with their curves and measures.

    Attributes
    ----------
    on : what is on in each
    gain : [dB], shape (states, frequency)
    measures : [dB], shape (measures, states); as `Levelled.heard` returns them
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
    levelled = Levelled(measures)
    columns = Measures(levelled.columns)
    with np.errstate(all="ignore"):
        circuit = Circuit(board, np.concatenate((frequency, columns.frequency)))
        gain = np.array([circuit.level(path(board.chain, on)) for on in states])
        ideal = np.zeros((count, columns.frequency.size))
        if columns.follow_ideal and columns.reference is not None:
            circuit = Circuit(board, columns.frequency)
            ideal = np.array(
                [circuit.level(reference_path(board, on, columns.reference)) for on in states]
            )
        values = columns.of(gain[:, frequency.size :], ideal) + columns.offsets(board)
    return Sample(states, gain[:, : frequency.size], levelled.heard(values.T)[0])
