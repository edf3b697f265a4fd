"""A board as a few arrays of coefficients, from which any state follows by multiplying.

A source is written as p = 1/E and q = Z/E. Every step of a chain then is linear:
``p' = a·p + c·q``, ``q' = b·p + d·q`` with four coefficients a frequency, and the response is
``1/H = p + q·Y`` with the admittance Y of the destination. These are the step's chain matrix. A
destination that reads a share of that voltage divides p and q by it from the start.

1/H is smooth however sharp a resonance is: for R-L-C it is a quadratic in f. So a grid of 18
points an octave and a polynomial through eight of them give H anywhere to 1e-9, and corner and
resonance are searched on the page as `metrics` does it on the exact model. Only pickups joined to
one source can cancel one another, a dip in H and a peak in 1/H; it is taken out as a factor.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.items.instrument import PassiveInstrument
from sigsim.items.loop import Loop
from sigsim.metrics import HIGHEST_HZ, LEVEL_HZ, LOSS_HZ, LOWEST_HZ
from sigsim.states.circuit import Circuit

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.items.base import Item
    from sigsim.metrics import Basis
    from sigsim.physics.arrays import ComplexArray, FloatArray, Impedance
    from sigsim.physics.source import TwoPort

POINTS: Final = 200


def frequencies(basis: Basis) -> FloatArray:
    """Return the grid, evenly spaced in pitch, and behind it the exact points of the metrics.

    These are 100 Hz, the four frequencies of the loss, and the third-octave centres of a band [Hz].
    """
    grid = np.geomspace(LOWEST_HZ, HIGHEST_HZ, POINTS)
    exact: FloatArray = np.concatenate((grid, [LEVEL_HZ], LOSS_HZ, basis.centres))
    return exact


@dataclass(frozen=True)
class Coefficients:
    """All that is needed to find the response of a board in any state.

    Attributes
    ----------
    board : the board
    frequency : [Hz], shape (frequency,); the grid first, then the exact points
    start : p and q of the instrument, times `pickup_factor`, over the share of the voltage across
        its input that the destination reads
    load : admittance of the destination [S]
    steps : the chain matrix of every item, by its identity and whether it is on
    """

    board: Board
    frequency: FloatArray
    start: tuple[Impedance, Impedance]
    load: Impedance
    steps: dict[tuple[int, bool], TwoPort]


def coefficients(board: Board, basis: Basis) -> Coefficients:
    """Return the coefficients of a board.

    Parameters
    ----------
    board : the board
    basis : its band is that of the treble loss
    """
    circuit = Circuit(board, frequencies(basis))
    steps: dict[tuple[int, bool], TwoPort] = {}
    # A knob at 0 makes infinite coefficients: nothing comes out, which the page takes as silence.
    with np.errstate(all="ignore"):
        p = pickup_factor(circuit) / np.asarray(circuit.start.E)
        if circuit.load.share is not None:
            p = p / circuit.load.share
        start = p, p * circuit.start.Z
        for item in board.items():
            for on in positions(item):
                if (id(item), on) not in steps:
                    steps[id(item), on] = circuit.step(item, on).matrix
    return Coefficients(board, circuit.frequency, start, circuit.load.Y, steps)


def pickup_factor(circuit: Circuit) -> Impedance:
    """Return the denominator of 1/E where several pickups are joined, 1 elsewhere.

    In series E = Σ1/pᵢ, so that 1/E = Πpᵢ / Σᵢ(Πpⱼ, j ≠ i); in parallel, with
    E = Σ(1/qᵢ) / Σ(pᵢ/qᵢ), the denominator is the same sum of the qᵢ.
    """
    instrument = circuit.board.instrument
    if not isinstance(instrument, PassiveInstrument) or len(instrument.pickups) < 2:
        return 1.0
    with np.errstate(all="ignore"):
        if instrument.pickups_wiring == "series":
            sources = [pickup.coil_source(circuit.jw) for pickup in instrument.pickups]
            values = [1 / np.asarray(source.E) for source in sources]
        else:
            sources = [pickup.source(circuit.jw) for pickup in instrument.pickups]
            values = [np.asarray(source.Z) / np.asarray(source.E) for source in sources]
        count = range(len(values))
        others = [np.prod([values[j] for j in count if j != i], axis=0) for i in count]
        total: ComplexArray = np.sum(others, axis=0)
    return total


def positions(item: Item) -> tuple[bool, ...]:
    """Return the positions in which an item is a step of the chain: a loop only when it is out."""
    if isinstance(item, Loop):
        return (False,)
    return (True,) if item.switch is None else (False, True)
