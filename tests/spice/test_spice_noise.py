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
from hypothesis import assume, given, seed, settings

from sigsim.board.reader import parse_board
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
            Y = step.Y
            en, i_n = item.input_noise_voltage or 0.0, item.input_noise_current or 0.0
            share = np.abs(1 / (1 + source.Z * Y)) ** 2
            carried = squared + FOUR_KT * np.real(source.Z) + en**2 + np.abs(i_n * source.Z) ** 2
            at_input = share * carried
            # The input's own resistance: what makes the whole 4kT·Re(Z ∥ Zin). Behind an input
            # capacitor the amplified node is another one, with its own impedance.
            Cs, Yi = (
                item.input_capacitor,
                1 / item.input_resistance + circuit.jw * item.input_capacitance,
            )
            if is_on and Cs is not None:
                Zs = source.Z + 1 / (circuit.jw * Cs)
                into = np.abs(1 / (1 + Zs * Yi)) ** 2
                own = np.abs(Zs / (1 + Zs * Yi)) ** 2 * FOUR_KT / item.input_resistance
                at_amplifier = into * carried + own
                g = step.g * (1 + Yi / (circuit.jw * Cs))
            else:
                own = np.abs(source.Z / (1 + source.Z * Y)) ** 2 * FOUR_KT * np.real(Y)
                at_amplifier, g = at_input + own, step.g
            squared = np.abs(g) ** 2 * at_amplifier
            source = step.drive(source)
        else:
            squared = squared * np.abs(step.drive(Source(1.0, source.Z)).E) ** 2
            source = step.drive(source)
    load = circuit.load
    share = np.abs(1 / (1 + source.Z * load)) ** 2
    squared = share * squared + FOUR_KT * np.real(source.Z / (1 + source.Z * load))
    return np.sqrt(squared)


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


@settings(max_examples=60)
@seed(31)
@given(boards_in_a_state(splits=False))
def test_random_boards(case: tuple[Table, frozenset[str], str]) -> None:
    _, on, text = case
    made = parse_board(text)
    # A resistance under 10 µΩ is written as an equation, which is silent.
    assume("\nH" not in netlist(made, made.state(on), noise=True, style=SECTIONS).text)
    f, density = simulated_noise(made, on, SECTIONS)
    ours = expected(text, on, f)
    np.testing.assert_allclose(density, ours, rtol=CLOSE)


def test_lossy_lines_say_that_they_are_silent() -> None:
    assert "thermal noise" in netlist(board(LEAD), noise=True).left_out[0]
    assert not netlist(board(LEAD)).left_out
