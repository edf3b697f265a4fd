"""What must hold for every circuit: reciprocity, passivity, limits, order, arrays.

These are textbook properties of linear networks; no number in this file needs a source.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from helpers.boards import Table, boards_in_a_state, si, to_toml
from helpers.thinned import tries
from hypothesis import given, seed, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from sigsim.board.model import Board
from sigsim.board.reader import parse_board
from sigsim.physics.line import Line, line
from sigsim.physics.pot import fraction
from sigsim.physics.source import Source, TwoPort, angular, series, shunt
from sigsim.states.path import path
from sigsim.states.response import response

if TYPE_CHECKING:
    from sigsim.physics.arrays import Impedance

FREQUENCY = np.geomspace(20.0, 40e3, 15)
JW = angular(FREQUENCY)
# Rounding of a handful of complex operations; everything compared here is exact in principle.
ROUNDING = 1e-12

LINES = st.tuples(
    si(1e-3, 1.0, 0.0), si(50e-9, 3e-6, 0.0), si(30e-12, 500e-12, 0.0), si(1e-4, 0.1, 0.0),
    si(0.05, 1e4, 0.0),
)  # fmt: skip
Case = tuple[Table, frozenset[str], str]


def passive_steps(board: Board, on: frozenset[str]) -> list[TwoPort | Line]:
    """Return the steps of a state that are chain matrices."""
    steps = [item.step(JW, is_on) for item, is_on in path(board.chain, on)]
    return [step for step in steps if isinstance(step, TwoPort | Line)]


@settings(max_examples=tries(40, 100))
@seed(11)
@given(boards_in_a_state())
def test_passive_two_ports_are_reciprocal(case: Case) -> None:
    _, on, text = case
    for step in passive_steps(parse_board(text), on):
        if isinstance(step, Line):
            assert_reciprocal(step.scaled, step.decay)
        else:
            assert_reciprocal(step)


def assert_reciprocal(matrix: TwoPort, decay: Impedance = 1.0) -> None:
    """Check AD - BC = 1; the factor taken out of a line's matrix comes out of it squared."""
    A, B, C, D = (np.asarray(value) for value in matrix)
    size = np.abs(A * D) + np.abs(B * C)
    assert np.all(np.abs(A * D - B * C - np.square(decay)) <= ROUNDING * size)


@settings(max_examples=200)
@seed(12)
@given(LINES)
def test_line_is_reciprocal_symmetric_and_passive(values: tuple[float, ...]) -> None:
    made = line(JW, *values)
    scaled, decay = made.scaled, made.decay
    assert_reciprocal(scaled, decay)
    assert np.array_equal(np.asarray(scaled.A), np.asarray(scaled.D))
    # A lossless line decays by nothing: its exponential has the magnitude 1 up to rounding.
    assert np.all(np.abs(decay) <= 1 + 1e-15)
    for load in (0.0, 1e-6, 1e-2):
        Y = np.asarray(line(JW, *values).admittance(load))
        assert np.all(Y.real >= -ROUNDING * np.abs(Y))


@settings(max_examples=tries(60, 150))
@seed(13)
@given(boards_in_a_state())
def test_no_source_impedance_has_a_negative_resistance(case: Case) -> None:
    _, on, text = case
    board = parse_board(text)
    source = board.instrument.source(JW)
    for item, is_on in path(board.chain, on):
        source = item.step(JW, is_on).drive(source)
        Z = np.asarray(source.Z)
        assert np.all(Z.real >= -ROUNDING * np.abs(Z)), item.label


@settings(max_examples=tries(40, 100))
@seed(14)
@given(boards_in_a_state())
def test_passive_run_never_gives_more_power_than_the_source_can(case: Case) -> None:
    _, on, text = case
    board = parse_board(text)
    source = board.instrument.source(JW)
    available = _available(source)
    for item, is_on in path(board.chain, on):
        if item.isolates(is_on):
            break
        source = item.step(JW, is_on).drive(source)
        left = _available(source)
        sure = np.isfinite(left)
        # 1e-9: Re Z is a difference.
        assert np.all(left[sure] <= available[sure] * (1 + 1e-9)), item.label
        available = np.where(sure, left, available)


def _available(source: Source) -> NDArray[Any]:
    """Return the available power `|E|²/(4·Re Z)` [W], infinite for a source without resistance."""
    Z = np.broadcast_to(np.asarray(source.Z), JW.shape)
    E = np.broadcast_to(np.abs(source.E), JW.shape)
    R = Z.real
    known = 1e-6 * np.abs(Z) < R  # below this the resistance itself is mostly rounding
    power: NDArray[Any] = np.full(JW.shape, np.inf)
    power[known] = E[known] ** 2 / (4 * R[known])
    power[E == 0] = 0.0
    return power


def test_series_then_shunt_is_not_shunt_then_series() -> None:
    source, Z, Y = Source(1.0, 1e3), 3e3, 1 / 2e3
    # By hand: 4 kΩ into 2 kΩ; and 1 kΩ into 2 kΩ, then 3 kΩ more in series.
    assert shunt(Y).drive(series(Z).drive(source)) == pytest.approx((1 / 3, 4e3 / 3))
    assert series(Z).drive(shunt(Y).drive(source)) == pytest.approx((2 / 3, 2e3 / 3 + 3e3))
    one_way, other_way = series(Z).then(shunt(Y)), shunt(Y).then(series(Z))
    assert one_way.drive(source) == pytest.approx((1 / 3, 4e3 / 3))
    assert other_way.drive(source) == pytest.approx((2 / 3, 2e3 / 3 + 3e3))
    # Looking into port 1 with port 2 open: 3 kΩ + 2 kΩ, and 2 kΩ.
    assert 1 / one_way.admittance(0.0) == pytest.approx(5e3)
    assert 1 / other_way.admittance(0.0) == pytest.approx(2e3)


def test_line_without_length_is_a_wire() -> None:
    made = line(JW, 0.1, 3e-7, 1e-10, 0.01, 0.0)
    A, B, C, D = made.scaled
    decay = made.decay
    for value, wire in ((A, 1), (B, 0), (C, 0), (D, 1), (decay, 1)):
        assert np.array_equal(np.broadcast_to(value, JW.shape), np.full(JW.shape, wire))


def test_line_without_capacitance_is_a_series_impedance() -> None:
    made = line(JW, 0.1, 3e-7, 0.0, 0.01, 50.0)
    A, B, C, D = made.scaled
    decay = made.decay
    assert np.array_equal(A, np.ones_like(JW))
    assert np.array_equal(D, np.ones_like(JW))
    assert not np.any(C)
    assert np.array_equal(decay, np.ones_like(JW))
    np.testing.assert_allclose(B, 50.0 * (0.1 + JW * 3e-7), rtol=ROUNDING)


def test_line_without_resistance_and_inductance_is_a_capacitor() -> None:
    made = line(JW, 0.0, 0.0, 1e-10, 0.02, 50.0)
    A, B, C, D = made.scaled
    assert np.array_equal(A, np.ones_like(JW))
    assert np.array_equal(D, np.ones_like(JW))
    assert not np.any(B)
    np.testing.assert_allclose(C, 50.0 * 1e-10 * (JW + 0.02 * JW.imag), rtol=ROUNDING)


def test_lossless_line_without_resistance_has_a_real_impedance_and_pure_delay() -> None:
    L, C, length = 2.5e-7, 1e-10, 500.0
    exact = line(JW, 0.0, L, C, 0.0, length)
    electrical = JW.imag * length * np.sqrt(L * C)
    np.testing.assert_allclose(exact.decay, np.exp(-1j * electrical), rtol=1e-11)
    # Terminated in its own 50 Ω it looks like 50 Ω and only delays.
    np.testing.assert_allclose(exact.admittance(1 / 50.0), np.full(JW.shape, 0.02), rtol=1e-11)


@pytest.mark.parametrize("length", [1e-3, 1.0, 100.0])
def test_open_and_shorted_ends_give_cotangent_and_tangent(length: float) -> None:
    z, y = 0.1 + JW * 3e-7, (JW + 0.01 * JW.imag) * 1e-10
    x, Zc = np.sqrt(z * y) * length, np.sqrt(z / y)
    made = line(JW, 0.1, 3e-7, 1e-10, 0.01, length)
    np.testing.assert_allclose(made.admittance(0.0), np.tanh(x) / Zc, rtol=1e-11)
    shorted = made.scaled.D / made.scaled.B  # the limit of a very large load admittance
    np.testing.assert_allclose(shorted, 1 / (np.tanh(x) * Zc), rtol=1e-11)
    np.testing.assert_allclose(made.admittance(1e15), shorted, rtol=1e-9)


def test_short_open_line_is_its_capacitance() -> None:
    # A tenth of a metre is far below a thousandth of a wavelength here: (γl)²/3 < 1e-7.
    Y = line(JW, 0.1, 3e-7, 1e-10, 0.0, 0.1).admittance(0.0)
    np.testing.assert_allclose(Y, JW * 1e-11, rtol=1e-7)


@settings(max_examples=100)
@seed(15)
@given(si(1e-3, 100.0), si(50e-9, 3e-5), si(30e-12, 5e-9), si(1e-4, 1.0), si(1e4, 1e7))
def test_very_long_and_lossy_line_does_not_overflow(
    R: float, L: float, C: float, loss_tangent: float, length: float
) -> None:
    made = line(JW, R, L, C, loss_tangent, length)
    behind = made.drive(Source(np.ones_like(JW), 1e4))
    assert np.all(np.isfinite(behind.E))
    assert np.all(np.isfinite(behind.Z))
    z, y = R + JW * L, (JW + loss_tangent * JW.imag) * C
    far = np.real(np.sqrt(z * y) * length) > 20  # what comes back is below 1e-17 of what went in
    seen = np.asarray(made.admittance(1e-3))
    np.testing.assert_allclose(np.asarray(behind.Z)[far], np.sqrt(z / y)[far], rtol=1e-9)
    np.testing.assert_allclose(seen[far], np.sqrt(y / z)[far], rtol=1e-9)


def test_a_kilometre_of_bad_cable_on_a_board() -> None:
    board = parse_board(
        """
        instrument = {resistance = "10k", inductance = "5 H"}
        destination = {input_resistance = "1 MΩ"}
        cables.bad = {capacitance = "10 nF/m", resistance = "100 Ω/m", loss_tangent = 0.1}
        chain = [{cable = "bad", length = "1000 m"}]
        """
    )
    made = response(board, (), FREQUENCY)
    assert np.all(np.isfinite(made.H))
    assert made.gain_db[0] > -400  # exp(-γl): 217 dB at 20 Hz and thousands at 40 kHz
    assert np.all(np.diff(made.gain_db[np.isfinite(made.gain_db)]) < 0)


SILENT = {
    "volume knob": 'instrument = {resistance = "8k", inductance = "3 H", volume_track = "250k", '
    'volume = 0, tone_track = "250k", tone_capacitor = "47n"}\nchain = [{stage = "s", '
    'input_resistance = "1M", output_resistance = "1k"}]',
    "volume pedal": 'instrument = {resistance = "8k", inductance = "3 H"}\nchain = [{stage = "s", '
    'kind = "volume pedal", track = "500k", position = 0}]',
    "one of two pickups": "instrument = {pickups = [{inductance = '3 H', volume_track = '250k', "
    "volume = 0}, {resistance = '7k', inductance = '3 H', volume_track = '250k'}]}\n"
    'chain = [{cable = "c", length = 5}]',
    "both pickups": "instrument = {pickups = [{inductance = '3 H', volume_track = '250k', "
    "volume = 0}, {inductance = '2 H', volume_track = '250k', volume = 0}]}\n"
    'chain = [{cable = "c", length = 5}]',
}
ENDS = '\ndestination = {input_resistance = "1M"}\ncables.c = {capacitance = "100 pF/m"}\n'


@pytest.mark.parametrize("name", SILENT)
@pytest.mark.parametrize("on", [(), ("s",)])
def test_turned_down_is_silent_and_not_an_error(name: str, on: tuple[str, ...]) -> None:
    board = parse_board(SILENT[name] + ENDS)
    made = response(board, on if "s" in board.switches() else (), FREQUENCY)
    assert not np.any(made.H)
    assert np.all(made.gain_db == -np.inf)


def test_pickup_turned_down_is_heard_again_once_the_knob_leaves_zero() -> None:
    down = response(parse_board(SILENT["one of two pickups"] + ENDS), (), FREQUENCY)
    text = SILENT["one of two pickups"].replace("volume = 0", "volume = 0.1")
    up = response(parse_board(text + ENDS), (), FREQUENCY)
    assert not np.any(down.H)
    assert np.all(np.abs(up.H) > 0)


def test_series_pickups_ignore_their_own_volume() -> None:
    """A file may not write it; a board made in Python can."""
    board = parse_board(SILENT["both pickups"] + ENDS)
    series = replace(board.instrument, pickups_wiring="series")  # type: ignore[call-arg]
    made = response(replace(board, instrument=series), (), FREQUENCY)
    assert np.allclose(np.abs(made.H[0]), 2, rtol=0.1)


def _tone(knob: str) -> NDArray[Any]:
    text = f"""
        destination = {{}}
        cables.c = {{}}
        chain = [{{cable = "c", length = 0}}]
        [instrument]
        resistance = "10k"
        tone_capacitor = "47n"
        {knob}
        """
    return response(parse_board(text), (), FREQUENCY).H


def _turned(tone: float) -> NDArray[Any]:
    return _tone(f'tone_track = "250k"\n        tone = {tone}')


def test_tone_extremes() -> None:
    # At 0 the capacitor lies straight across the 10 kΩ; at 10 with the whole track before it.
    np.testing.assert_allclose(_turned(0), 1 / (1 + 1e4 * JW * 47e-9), rtol=ROUNDING)
    branch = 250e3 + 1 / (JW * 47e-9)
    np.testing.assert_allclose(_turned(10), branch / (branch + 1e4), rtol=ROUNDING)
    np.testing.assert_allclose(_tone('tone_track = "0"'), _turned(0), rtol=ROUNDING)
    turned = np.abs([_turned(position)[-1] for position in np.linspace(0, 10, 21)])
    assert np.all(np.diff(turned) > 0)


@pytest.mark.parametrize("midpoint", [0.05, 0.1, 0.3, 0.5, 0.8])
def test_taper_passes_through_its_ends_and_its_midpoint(midpoint: float) -> None:
    assert [fraction(p, midpoint) for p in (0, 5, 10)] == pytest.approx([0, midpoint, 1])
    travel = fraction(np.linspace(0, 10, 101), midpoint)
    assert np.all(np.diff(travel) > 0)


@settings(max_examples=60)
@seed(16)
@given(boards_in_a_state())
def test_frequencies_together_equal_one_by_one(case: Case) -> None:
    _, on, text = case
    board = parse_board(text)
    together = response(board, on, FREQUENCY).H
    alone = [response(board, on, np.array([f])).H[0] for f in FREQUENCY]
    # Vector and scalar code may round the last digit differently.
    np.testing.assert_allclose(together, alone, rtol=1e-11, atol=0)
    assert np.array_equal(response(board, on, FREQUENCY[::-1]).H[::-1], together)


@settings(max_examples=60)
@seed(17)
@given(boards_in_a_state(), st.integers(0, 99))
def test_spelling_of_the_file_does_not_matter(case: Case, spelling: int) -> None:
    plain, on, text = case
    one = response(parse_board(text), on, FREQUENCY).H
    other = response(parse_board(to_toml(plain, spelling)), on, FREQUENCY).H
    # 15 digits are written; a resonance multiplies what is lost by its Q, under 100 here.
    np.testing.assert_allclose(one, other, rtol=1e-10, atol=0)
