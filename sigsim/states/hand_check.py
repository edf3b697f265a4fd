"""The two formulas a person can check with a pocket calculator, for every segment of a state."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.items.passive_stage import PassiveStage
from sigsim.physics.source import Source, angular
from sigsim.states.circuit import in_circuit

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.physics.arrays import Value

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


def hand_check(board: Board, on: frozenset[str]) -> tuple[HandCheck, ...]:
    """Return the hand check of every segment of a state.

    Parameters
    ----------
    board : the board
    on : the names of what is on

    Returns
    -------
    one per segment, from instrument to destination
    """
    jw = angular(np.array([_NEARLY_DC_HZ]))
    inductance, capacitance = board.instrument.winding()
    source = board.instrument.resistive().source(jw)
    begin, plain = "instrument", True
    checks = []
    for item, is_on in in_circuit(board.chain, on):
        if item.isolates(is_on):
            capacitance += item.load_capacitance(is_on)
            segment = f"{begin} → {item.label}"
            checks.append(_check(segment, source, capacitance, inductance, plain))
            begin, inductance, capacitance, plain = item.label, 0.0, 0.0, True
        else:
            plain = plain and not (is_on and isinstance(item, PassiveStage) and item.divides())
            capacitance += item.shunt_capacitance(is_on)
        source = item.resistive().step(jw, is_on).drive(source)
    capacitance += board.destination.input_capacitance
    segment = f"{begin} → {board.destination.name}"
    checks.append(_check(segment, source, capacitance, inductance, plain))
    return tuple(checks)


def _check(
    segment: str, source: Source, capacitance: Value, inductance: Value, plain: bool
) -> HandCheck:
    R = float(np.ravel(np.real(np.asarray(source.Z)))[0])
    C, L = float(np.ravel(capacitance)[0]), float(np.ravel(inductance)[0])
    rc = 1 / (2 * math.pi * R * C) if plain and R * C > 0 else None
    lc = 1 / (2 * math.pi * math.sqrt(L * C)) if plain and L * C > 0 else None
    return HandCheck(segment, R, C, rc, lc)
