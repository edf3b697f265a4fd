"""The simulator's noise analysis against Nyquist's theorem and the definition of en and in.

A passive one-port of any parts at one temperature has the noise 4kT·Re(Z) of its impedance
(H. Nyquist, *Physical Review* 32 (1928) 110). An isolator adds en² + |in·Z|² at its input.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from helpers.boards import Table, boards_in_a_state
from helpers.simulator import LEAD, NEEDS_NGSPICE, board, simulated_noise
from helpers.thinned import tries
from hypothesis import assume, given, seed, settings

from sigsim.board.reader import parse_board
from sigsim.items.inputs import Input
from sigsim.physics.source import Isolator, Source
from sigsim.spice.compare import without_loss_tangents
from sigsim.spice.emit_line import LineStyle
from sigsim.spice.netlist import netlist
from sigsim.states.circuit import Circuit
from sigsim.states.path import path

pytestmark = NEEDS_NGSPICE

FOUR_KT = 4 * 1.380649e-23 * 290.0
# 12 sections of the slowest cable drawn, |γl| = 0.6 at 40 kHz: (0.6/12)²/24 = 1e-4.
SECTIONS = LineStyle("sections", 12)
# ngspice takes Boltzmann's constant as 1.38064852e-23 and 0 °C as 273.15 K: 2e-7 apart.
CLOSE = 3e-4


def expected(text: str, on: frozenset[str], f: np.ndarray) -> np.ndarray:
    """Return the density [V/√Hz] at the destination, resistive inputs included as parts."""
    made = without_loss_tangents(parse_board(text))
    circuit = Circuit(made, f)
    source, squared = circuit.start, np.zeros_like(f)
    for item, is_on in path(made.chain, on):
        step = circuit.step(item, is_on)
        if isinstance(step, Isolator):
            en, i_n = item.input_noise_voltage or 0.0, item.input_noise_current or 0.0
            squared = squared + en**2 + np.abs(i_n * source.Z) ** 2
            share, squared = _read(source, squared, item.input(is_on), circuit.jw)
            squared = np.abs(step.g / (1 + source.Z * step.Y) / share) ** 2 * squared
        else:
            squared = squared * np.abs(step.drive(Source(1.0, source.Z)).E) ** 2
        source = step.drive(source)
    # What has no resistance has none but for rounding, which may be less than 0.
    read = _read(source, squared, made.destination.input, circuit.jw)[1]
    return np.sqrt(np.maximum(read, 0.0))


def _read(
    source: Source, squared: np.ndarray, entry: Input, jw: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Follow a source into an input, to the node that is read.

    Returns
    -------
    what is left there of the source's voltage, and the density [V²/Hz]: what came on top of the
    source's own noise, and 4kT·Re(Z) of all that is passive up to that node, the input's resistors
    included
    """
    Z = source.Z if entry.capacitor is None else source.Z + 1 / (jw * entry.capacitor)
    Y = 0.0 if entry.resistance is None else 1 / entry.resistance
    behind = Z / (1 + Z * Y) + entry.stopper
    shunt = 1 + behind * jw * entry.capacitance
    share = 1 / (1 + Z * Y) / shunt
    return share, np.abs(share) ** 2 * squared + FOUR_KT * np.real(behind / shunt)


def test_a_resistor_alone() -> None:
    text = "[instrument]\nresistance = 8e3\n[destination]\n[cables.lead]\n" + LEAD
    _, density = simulated_noise(parse_board(text), frozenset(), SECTIONS)
    assert density[0] == pytest.approx(math.sqrt(FOUR_KT * 8e3), rel=1e-6)


def test_en_and_in() -> None:
    stage = (
        '[[chain]]\nstage = "amp"\ninput_resistance = 1e12\noutput_resistance = 0\ngain = 20\n'
        'always_on = true\ninput_noise_voltage = "5 nV/rtHz"\ninput_noise_current = "1 pA/rtHz"\n'
    )
    text = "[instrument]\nresistance = 8e3\n[destination]\n" + stage
    _, density = simulated_noise(parse_board(text), frozenset(), SECTIONS)
    total = FOUR_KT * 8e3 + 5e-9**2 + (1e-12 * 8e3) ** 2
    assert density == pytest.approx(10 * math.sqrt(total), rel=1e-6)  # 20 dB are ten times


@settings(max_examples=tries(24, 60))
@seed(31)
@given(boards_in_a_state(splits=False))
def test_random_boards(case: tuple[Table, frozenset[str], str]) -> None:
    _, on, text = case
    made = parse_board(text)
    # A resistance under 10 µΩ is written as an equation, which is silent.
    assume("\nH" not in netlist(made, made.state(on), noise=True, style=SECTIONS).text)
    f, density = simulated_noise(made, on, SECTIONS)
    ours = expected(text, on, f)
    # 1e-15 V/√Hz is the noise of less than a nanoohm: nothing.
    np.testing.assert_allclose(density, ours, rtol=CLOSE, atol=1e-15)


def test_lossy_lines_say_that_they_are_silent() -> None:
    assert "thermal noise" in netlist(board(LEAD), noise=True).left_out[0]
    assert not netlist(board(LEAD)).left_out
