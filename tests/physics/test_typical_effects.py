"""What stoppers, coupling capacitors and a transformer's strays cost on a bass with one split coil.

The sizes are those of the nodal analysis in `helpers/nodal.py`, rounded to a tenth of a decibel as
a player would say them; the program is held to it far closer.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from helpers.boards import Table, to_toml
from helpers.nodal import solve

from sigsim.board.reader import parse_board
from sigsim.states.response import response

# 100 Hz, then the base-ten third-octaves from 2 to 8 kHz (IEC 61260-1).
FREQUENCY = np.concatenate(([100.0], 1000 * 10 ** (np.arange(3, 10) / 10)))
BASS: Table = {
    "resistance": 11e3,
    "inductance": 6.0,
    "capacitance": 35e-12,
    "loss_resistance": 470e3,
    "volume_track": 250e3,
    "tone_track": 250e3,
    "tone_capacitor": 47e-9,
}
VALVE: Table = {"input_resistance": 1e6, "input_capacitance": 186e-12}
MICROPHONE: Table = {"input_resistance": 2e3, "input_capacitance": 470e-12}
DI: Table = {
    "stage": "di",
    "kind": "transformer",
    "ratio": 12.0,
    "primary_resistance": 2.5e3,
    "primary_inductance": 250.0,
    "secondary_resistance": 40.0,
}


def board(destination: Table, *items: Table) -> Table:
    """Return a bass on six metres of cable, some items, and a destination."""
    return {
        "title": "effects",
        "instrument": BASS,
        "destination": destination,
        "cables": {"lead": {"capacitance": 100e-12, "plug_capacitance": 6e-12}},
        "chain": [{"cable": "lead", "length": 6.0}, *items],
        "scenes": {},
    }


def treble(table: Table) -> float:
    """Return the mean gain of the treble over that at 100 Hz [dB]."""
    expected = _decibels(solve(table, frozenset(), FREQUENCY))
    found = _decibels(response(parse_board(to_toml(table)), (), FREQUENCY).H)
    np.testing.assert_allclose(found, expected, atol=1e-6)
    return float(found[1:].mean() - found[0])


def _decibels(H: Any) -> Any:
    return 20 * np.log10(np.abs(H))


# A fifth of the smallest effect is 0.06 dB; half a tenth is what rounding takes.
TENTH = 0.05


@pytest.mark.parametrize(("stopper", "costs"), [(34e3, 0.3), (68e3, 0.7)])
def test_stopper_of_a_valve_amplifier(stopper: float, costs: float) -> None:
    """Behind it the input's capacitance no longer resonates with the coil alone."""
    stopped = treble(board({**VALVE, "input_series_resistance": stopper}))
    assert treble(board(VALVE)) - stopped == pytest.approx(costs, abs=TENTH)


@pytest.mark.parametrize(("winding", "leakage", "costs"), [(0.3e-9, 0.5, 1.8), (1e-9, 0.5, 5.7)])
def test_strays_of_a_transformer(winding: float, leakage: float, costs: float) -> None:
    """The capacitance across the input is so much more cable; leakage hardly counts beside it."""
    stray = {**DI, "winding_capacitance": winding, "leakage_inductance": leakage}
    lost = treble(board(MICROPHONE, DI)) - treble(board(MICROPHONE, stray))
    assert lost == pytest.approx(costs, abs=TENTH)
