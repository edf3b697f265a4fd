"""The two formulas a person can check with a pocket calculator, for every segment of a state."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from sigsim.physics.arrays import scalar
from sigsim.physics.source import angular
from sigsim.states.path import Segment, path, segments

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import On

# Low enough that every shunt capacitor is open and every coil a wire.
_NEARLY_DC_HZ: Final = 1e-3


@dataclass(frozen=True)
class HandCheck:
    """One segment: from the source or an isolator to the next isolator or the destination.

    Attributes
    ----------
    segment : where it begins and ends
    source_resistance : Rs at low frequency, at the end of the segment without its load [Ω]
    capacitance : ΣC across the segment, winding and input included [F]
    rc_corner : `1/(2π·Rs·ΣC)` [Hz], None without resistance or capacitance
    lc_resonance : `1/(2π·sqrt(L·ΣC))` [Hz] where the source is a coil, else None

    Both are None where a volume pedal, a pad or a transformer stands in the segment: what lies
    before it and behind it then sees different resistances, and no such simple formula holds.
    """

    segment: str
    source_resistance: float
    capacitance: float
    rc_corner: float | None
    lc_resonance: float | None

    @property
    def counts(self) -> Literal["corner", "resonance"] | None:
        """Which of the two counts here: the lower, where the treble ends first; None without both.

        From a coil that is the resonance, unless a knob puts so much resistance behind it that
        resistance and capacitance alone take the treble below; from a resistance the corner.
        """
        if self.lc_resonance is None:
            return None if self.rc_corner is None else "corner"
        below = self.rc_corner is not None and self.rc_corner < self.lc_resonance
        return "corner" if below else "resonance"


def hand_check(board: Board, on: On) -> tuple[HandCheck, ...]:
    """Return the hand check of every segment of a state.

    Parameters
    ----------
    board : the board
    on : the names of what is on

    Returns
    -------
    one per segment, from instrument to destination
    """
    return tuple(_check(board, segment) for segment in segments(path(board.chain, on)))


def _check(board: Board, segment: Segment) -> HandCheck:
    begin, end = segment.begin, segment.end
    jw = angular(np.array([_NEARLY_DC_HZ]))
    if begin is None:
        source = board.instrument.resistive().source(jw)
        inductance, capacitance = board.instrument.winding()
    else:
        source = begin.item.resistive().step(jw, begin.on).output
        inductance, capacitance = 0.0, 0.0
    for item, is_on in segment.run:
        source = item.resistive().step(jw, is_on).drive(source)
        capacitance = capacitance + item.shunt_capacitance(is_on)
    if end is None:
        capacitance = capacitance + board.end.input_capacitance
    else:
        capacitance = capacitance + end.item.load_capacitance(end.on)
    R = scalar(np.real(np.asarray(source.Z)))
    C, L = scalar(capacitance), scalar(inductance)
    plain = not any(item.divides(is_on) for item, is_on in segment.run)
    rc = 1 / (2 * math.pi * R * C) if plain and R * C > 0 else None
    lc = 1 / (2 * math.pi * math.sqrt(L * C)) if plain and L * C > 0 else None
    names = (
        "instrument" if begin is None else begin.item.label,
        board.end.name if end is None else end.item.label,
    )
    return HandCheck(" → ".join(names), R, C, rc, lc)
