"""The loss across a coil's inductance: what must hold for any exponent, and both of its ends."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sigsim.board.reader import parse_board
from sigsim.physics.loss import lossy
from sigsim.physics.source import angular
from sigsim.states.circuit import Circuit
from sigsim.states.response import response

FREQUENCY = np.geomspace(20.0, 40e3, 60)
EXPONENTS = (0.0, 1e-9, 0.1, 0.5, 0.9, 1.0)


def coil(keys: str) -> str:
    """Return a board with one coil and a load."""
    return f"""
        [instrument]
        resistance = "8 kΩ"
        inductance = "4 H"
        capacitance = "60 pF"
        {keys}
        [destination]
        input_resistance = "1 MΩ"
        input_capacitance = "700 pF"
        [cables.none]
        [[chain]]
        cable = "none"
        length = 0
        """


def test_exponent_0_is_the_resistance_bit_for_bit() -> None:
    """`jωL ∥ R` as every circuits textbook has it; a board without the key is the same board."""
    jw = angular(FREQUENCY)
    Z = jw * 3.0
    np.testing.assert_array_equal(lossy(jw, 3.0, 2e5, 0.0), Z / (1 + Z / 2e5))
    written, left_out = (
        response(parse_board(coil(f'loss_resistance = "200 kΩ"\n{more}')), (), FREQUENCY).H
        for more in ("loss_exponent = 0", "")
    )
    np.testing.assert_array_equal(written, left_out)


def test_exponent_1_is_an_inductance() -> None:
    """Two inductances side by side, R/ω1 being the second."""
    jw = angular(FREQUENCY)
    second = 2e5 / (2 * math.pi * 1e3)
    together = 3.0 * second / (3.0 + second)
    np.testing.assert_allclose(lossy(jw, 3.0, 2e5, 1.0), jw * together, rtol=1e-14)


@settings(max_examples=300)
@given(
    st.floats(0, 1), st.floats(0.05, 25), st.floats(1e3, 1e7), st.floats(1, 5e4)
)  # well beyond the parts
def test_it_is_passive_and_its_magnitude_at_1_khz_is_the_resistance(
    n: float, L: float, R: float, frequency: float
) -> None:
    """No part of it gives power (Re Z ≥ 0), and it never leads by more than a right angle."""
    jw = angular(np.array([frequency, 1e3]))
    Z = np.asarray(lossy(jw, L, R, n))
    rounding = 1e-12 * np.abs(Z)
    assert (Z.real >= -rounding).all()
    assert (Z.imag >= -rounding).all()
    own = 1 / (1 / Z[1] - 1 / (jw[1] * L))
    # What is taken off may be a hundred thousand times what is left.
    assert abs(own) == pytest.approx(R, rel=1e-6)
    assert math.degrees(np.angle(own)) == pytest.approx(90 * n, abs=1e-3)


@pytest.mark.parametrize("n", EXPONENTS)
def test_direct_current_meets_the_wire_alone(n: float) -> None:
    keys = f'loss_resistance = "100 kΩ"\nloss_exponent = {n!r}'
    instrument = parse_board(coil(keys)).instrument
    source = instrument.source(angular(np.array([0.0, 1e-3])))
    assert np.real(np.asarray(source.Z)) == pytest.approx([8e3, 8e3], rel=1e-5)
    assert np.asarray(source.E) == pytest.approx([1.0, 1.0])
    # What the hand check prints is taken at the lowest frequency that the circuit is asked for.
    whole = Circuit(parse_board(coil(keys)), np.array([1e-3])).start.Z
    assert float(np.real(np.asarray(whole)).ravel()[0]) == pytest.approx(8e3, rel=1e-5)


def test_many_exponents_at_once_are_each_by_itself() -> None:
    jw = angular(FREQUENCY)
    many = np.asarray(lossy(jw, 3.0, 2e5, np.array(EXPONENTS)[:, None]))
    for row, n in zip(many, EXPONENTS, strict=True):
        np.testing.assert_allclose(row, lossy(jw, 3.0, 2e5, n), rtol=1e-13)
