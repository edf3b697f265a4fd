"""The invented gear of the measuring demonstration, and what a bench records of it.

A bassist measures a cable and a bass, and then the board they have built. All figures are invented,
and hidden from what measures; in the built board one is not as its plan has it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.board.edit import places, replaced
from sigsim.board.reader import parse_board
from sigsim.items.cable import Cable, CableSpec
from sigsim.items.destination import Destination
from sigsim.items.instrument import PassiveInstrument
from sigsim.measure.bench import Interface
from sigsim.states.response import Response, Solver

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.measure.bench import Of
    from sigsim.physics.arrays import ComplexArray, FloatArray, Impedance

LENGTH_M: Final = 6.0
PLUG_F: Final = 6e-12
CABLE: Final = Cable(
    cable="cable",
    length=LENGTH_M,
    spec=CableSpec(capacitance=112e-12, loss_tangent=0.021, plug_capacitance=PLUG_F),
)
BASS: Final = PassiveInstrument(
    resistance=8.3e3,
    inductance=4.6,
    capacitance=140e-12,
    loss_resistance=210e3,
    loss_exponent=0.45,
    volume_track=262e3,
)
# What is to be found, by the recipes' names.
CABLE_FIGURES: Final = {
    "total_capacitance": float(CABLE.shunt_capacitance()),
    "capacitance": float(CABLE.spec.capacitance),
    "loss_tangent": float(CABLE.spec.loss_tangent),
}
BASS_FIGURES: Final = {
    key: float(getattr(BASS, key))
    for key in (
        "resistance", "inductance", "capacitance", "loss_resistance", "loss_exponent",
        "volume_track",
    )
}  # fmt: skip
# The volume about half: an invented place of its knob.
HALF: Final = 5.2
# What the bassist knows of it: the writing on its pot.
TRACK: Final = "250 kΩ ± 20 %"
_RESISTOR_OHM, _OUTPUT_OHM = 100.2e3, 126.0
# The lead that stays plugged in, and the input it ends in.
_LEAD: Final = Cable(cable="lead", length=3.0, spec=CableSpec(capacitance=95e-12))
INPUT: Final = Destination(name="interface", input_resistance=1.03e6, input_capacitance=60e-12)
# The bass on its own lead, before anything is known of it.
_ITS_LEAD: Final = Cable(cable="lead", length=5.0, spec=CableSpec(capacitance=88e-12))
# In the board as built, the cable from the last pedal is longer than in the plan.
LONGER: Final = 1.6
LAST_M: Final = 5.0
PLAN: Final = """\
# Invented, for "sigsim demo --measure": a board as it was planned.
title = "Night ferry: four pedals, to be verified"

[instrument]
resistance = "8.3 kΩ ± 2 %"
inductance = "4.6 H ± 2 %"
capacitance = "140 pF ± 5 %"
loss_resistance = "210 kΩ ± 5 %"
loss_exponent = 0.45
volume_track = "262 kΩ ± 2 %"

# The interface that records; sigsim measure prints its figures as the point.
[destination]
name = "interface"
input_resistance = "1.03 MΩ"
input_capacitance = "60 pF"

[cables.lead]
capacitance = "95 pF/m ± 3 %"

[cables.patch]
capacitance = "130 pF/m ± 5 %"

[wiring]
cable = "patch"
length = "30 cm"

[[chain]]
cable = "lead"
length = "5 m"

[[chain]]
stage = "tuner"
part = "tuner-true-bypass"

[[chain]]
stage = "bilge fuzz"
part = "fuzz-low-impedance"

[[chain]]
stage = "engine room"
part = "drive-high-impedance"

[[chain]]
stage = "fog echo"
part = "pedal-true-bypass"

# The cable from the last pedal.
[[chain]]
cable = "lead"
length = "5 m"
"""


ROLES: Final = (
    "loop", "before", "cable", "bass-before", "bass", "bass-half", "without", "through",
)  # fmt: skip


@dataclass(frozen=True)
class Take:
    """One recording of the bench.

    Attributes
    ----------
    role : one of `ROLES`
    response : of all between output and input [-], at jω [rad/s]
    level : by how much it is turned up [-]
    """

    role: str
    response: Of
    level: float = 1.0


def interface() -> Interface:
    """Return the invented interface with the lead on its input."""
    return Interface(_OUTPUT_OHM, _RESISTOR_OHM, _seen_into(_LEAD, INPUT))


def plan() -> Board:
    """Return the board as it was planned."""
    return parse_board(PLAN)


def built() -> Board:
    """Return the board as it was built: its last cable is longer."""
    board = plan()
    *_, (place, last) = places(board)
    assert isinstance(last, Cable), "the chain of the plan ends with a cable"
    return replaced(board, place, replace(last, length=LONGER * LAST_M))


def takes(desk: Interface) -> Iterator[Take]:
    """Yield what is recorded, in the order of the work."""
    bass = _instrument(BASS)
    yield Take("loop", desk.loop)
    yield Take("before", desk.loaded(None))
    yield Take("cable", desk.loaded(_seen_into(CABLE, None)))
    on_lead = _seen_into(_ITS_LEAD, None)
    yield Take("bass-before", desk.loaded(on_lead))
    yield Take("bass", desk.loaded(_both(on_lead, bass)))
    half = _instrument(replace(BASS, volume=HALF))
    yield Take("bass-half", desk.loaded(_both(on_lead, half)))
    solver = Solver(built())
    # A coil by the pickup: what it induces grows with frequency, and is the same twice.
    for role, of in (("without", "reference"), ("through", "response")):
        yield Take(role, _excited(solver, of), _TURNED_UP)


_TURNED_UP: Final = 2.0
_INDUCED_HZ: Final = 900.0


def _excited(solver: Solver, of: str) -> Of:
    def at(jw: ComplexArray) -> Impedance:
        frequency: FloatArray = jw.imag / (2 * np.pi)
        board = Response(solver, frozenset(), frequency, "direct")
        H = board.H if of == "response" else board.reference.H
        high = frequency / _INDUCED_HZ
        return H * (1j * high / (1 + 1j * high))

    return at


def _instrument(instrument: PassiveInstrument) -> Of:
    return lambda jw: 1 / instrument.source(jw).Z


def _seen_into(cable: Cable, end: Destination | None) -> Of:
    return lambda jw: cable.step(jw, True).admittance(0.0 if end is None else end.load(jw).Y)


def _both(one: Of, other: Of) -> Of:
    return lambda jw: one(jw) + other(jw)
