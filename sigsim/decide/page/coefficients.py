"""A board as a few arrays of coefficients, from which any state follows by multiplying.

A source is written as p = 1/E and q = Z/E. Every step of a chain then is linear:
``p' = a·p + c·q``, ``q' = b·p + d·q`` with four coefficients a frequency, and the response is
``1/H = p + q·Y`` with the admittance Y of the destination. These are the step's chain matrix. A
destination that reads a share of that voltage divides p and q by it from the start.

1/H is smooth however sharp a resonance is: for R-L-C it is a quadratic in f. So a grid of 18
points an octave and a polynomial through eight of them give H anywhere to 1e-9, and corner and
resonance are searched on the page as `metrics` does it on the exact model. Two things make a dip in
H, and so a peak in 1/H, which is taken out as a factor: pickups joined to one source, which can
cancel one another, and a split, which can draw all current at a resonance of its own.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.items.instrument import PassiveInstrument
from sigsim.items.loop import Loop
from sigsim.items.split import Branch, Split
from sigsim.metrics import HIGHEST_HZ, LEVEL_HZ, LOSS_HZ, LOWEST_HZ
from sigsim.physics.pot import Divider
from sigsim.states.circuit import Circuit
from sigsim.states.path import path

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from sigsim.board.model import Board
    from sigsim.board.state import On
    from sigsim.items.base import Item
    from sigsim.metrics import Basis
    from sigsim.physics.arrays import ComplexArray, FloatArray, Impedance
    from sigsim.physics.source import Step, TwoPort

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
    inputs : the input admittance [S] of every isolator, by its identity and whether it is on, and
        that of the destination of every split, by its identity and True: they end a segment, and
        a split's load on the way that it leaves
    """

    board: Board
    frequency: FloatArray
    start: tuple[Impedance, Impedance]
    load: Impedance
    steps: dict[tuple[int, bool], TwoPort]
    inputs: dict[tuple[int, bool], Impedance]


def coefficients(board: Board, basis: Basis) -> Coefficients:
    """Return the coefficients of a board.

    Parameters
    ----------
    board : the board
    basis : its band is that of the treble loss
    """
    circuit = Circuit(board, frequencies(basis))
    steps: dict[tuple[int, bool], TwoPort] = {}
    inputs: dict[tuple[int, bool], Impedance] = {}
    # A knob at 0 makes infinite coefficients: nothing comes out, which the page takes as silence.
    with np.errstate(all="ignore"):
        p = pickup_factor(circuit) / np.asarray(circuit.start.E)
        if circuit.load.share is not None:
            p = p / circuit.load.share
        start = p, p * circuit.start.Z
        for item, in_split in _everything(board.chain, in_split=False):
            if isinstance(item, Split):
                inputs[id(item), True] = item.destination.load(circuit.jw).Y
            for on in positions(item):
                step = circuit.step(item, on)
                steps[id(item), on] = _in_split(step) if in_split else step.matrix
                if item.isolates(on):
                    inputs[id(item), on] = step.input
    return Coefficients(board, circuit.frequency, start, circuit.load.Y, steps, inputs)


def _everything(items: Iterable[Item], *, in_split: bool) -> Iterator[tuple[Item, bool]]:
    """Yield every item on the way to the end, and on ways that leave it, with which it is."""
    for item in items:
        yield item, in_split
        if isinstance(item, Loop | Split):
            inside = in_split or isinstance(item, Split)
            yield from _everything(item.inside, in_split=inside)


def _in_split(step: Step) -> TwoPort:
    """Return a chain matrix of which only ratios count; finite for a knob at 0."""
    return step.scaled if isinstance(step, Divider) else step.matrix


def split_factor(circuit: Circuit, on: On) -> Impedance:
    """Return what takes the dips of all splits out of 1/H in a state, as the page does it.

    A split's admittance is a fraction; its denominator is the voltage at its beginning for 1 V at
    the end of its run.
    """
    factor: Impedance = 1.0
    with np.errstate(all="ignore"):
        for item, _ in path(circuit.board.chain, on):
            if isinstance(item, Branch):
                share = np.asarray(item.share(circuit.jw, circuit.step))
                factor = factor / share if share.all() else factor
    return factor


def pickup_factor(circuit: Circuit) -> Impedance:
    """Return the denominator of 1/E where several pickups are joined, 1 elsewhere.

    In series E = Σ1/pᵢ, so that 1/E = Πpᵢ / Σᵢ(Πpⱼ, j ≠ i); in parallel, with
    E = Σ(1/qᵢ) / Σ(pᵢ/qᵢ), the denominator is the same sum of the qᵢ.
    """
    instrument = circuit.board.instrument
    if not isinstance(instrument, PassiveInstrument) or len(instrument.pickups) < 2:
        return 1.0
    # A pickup that is turned down, and shorts no other, is a load on them and adds no voltage.
    sources = [source for source in instrument.sources(circuit.jw) if np.any(source.E)]
    with np.errstate(all="ignore"):
        if instrument.pickups_wiring == "series":
            values = [1 / np.asarray(source.E) for source in sources]
        else:
            values = [np.asarray(source.Z) / np.asarray(source.E) for source in sources]
        count = range(len(values))
        others = [np.prod([values[j] for j in count if j != i], axis=0) for i in count]
        total: ComplexArray = np.sum(others, axis=0)
    return total


def positions(item: Item) -> tuple[bool, ...]:
    """Return the positions in which an item is a step of the chain: a loop only when it is out.

    A split is none: what it is depends on what is on in it.
    """
    if isinstance(item, Split):
        return ()
    if isinstance(item, Loop):
        return (False,)
    return (True,) if item.switch is None else (False, True)
