"""Noise against published figures, Nyquist's theorem, kT/C, and a simulator's noise analysis."""

from __future__ import annotations

import math

import numpy as np
import pytest
from helpers.boards import Table, boards_in_a_state, ends, to_toml
from helpers.nodal import noise_density
from helpers.published import cases
from helpers.simulator import simulated_noise, with_ngspice
from helpers.thinned import tries
from hypothesis import assume, given, seed, settings

from sigsim.board.model import Board
from sigsim.board.reader import parse_board
from sigsim.board.state import State
from sigsim.decide.noise import a_weighted_noise, dbv, noise_report
from sigsim.metrics import AUDIBLE_HZ
from sigsim.physics.noise import band_power
from sigsim.spice.compare import without_loss_tangents
from sigsim.spice.emit_line import LineStyle
from sigsim.spice.netlist import netlist
from sigsim.states.circuit import Circuit
from sigsim.states.noise import noise
from sigsim.states.response import grid

FOUR_K = 4 * 1.380649e-23
ALL_OFF: frozenset[str] = frozenset()


def board(resistance: float, rest: str = "", destination: str = "", cable: str = "") -> Board:
    """Return a source resistance [Ω], a chain of one wire or `rest`, and a destination."""
    chain = rest or 'cable = "wire", length = 0'
    return parse_board(f"""
        instrument = {{type = "active", output_resistance = {resistance!r}}}
        destination = {{{destination}}}
        cables.wire = {{{cable}}}
        chain = [{{{chain}}}]
        """)


def amplifier(keys: str) -> str:
    """Return a stage that takes nothing from its source and has no noise of its own resistors."""
    return (
        'stage = "amp", always_on = true, input_resistance = 1e12, output_resistance = 0, ' + keys
    )


def density(made: Board, temperature: float, on: frozenset[str] = ALL_OFF) -> float:
    """Return the density [V/√Hz] at the destination at 1 kHz."""
    found = noise(Circuit(made, np.array([1e3])), on, temperature)
    return math.sqrt(found.total[0])


@pytest.mark.parametrize("resistance", [1e3, 1e6])
def test_a_capacitor_has_kt_over_c_whatever_the_resistor(resistance: float) -> None:
    # Textbook identity: ∫ 4kTR/(1 + (2πfRC)²) df over all frequencies is kT/C. Six decades to each
    # side of the corner leave 6e-7 of it out.
    C = 1e-9
    corner = 1 / (2 * math.pi * resistance * C)
    f = grid(1e-6 * corner, 1e6 * corner, 4001)
    made = board(resistance, destination=f"input_capacitance = {C!r}")
    power = band_power(noise(Circuit(made, f), ALL_OFF, 290.0).total, f)
    assert power == pytest.approx(FOUR_K * 290 / 4 / C, rel=2e-6)


def test_band_totals_of_white_noise() -> None:
    # A density that is the same everywhere: its square times the bandwidth, exactly.
    state = noise_report(board(10e3), [State("")]).states[0]
    flat = FOUR_K * 290 * 10e3 * (AUDIBLE_HZ[1] - AUDIBLE_HZ[0])
    assert state.destination.flat == pytest.approx(math.sqrt(flat), rel=1e-5)
    # A-weighted: the published weights at octaves, each octave as wide as f/√2. A sum as coarse as
    # that, whose last octave ends at 22 kHz, is right within a few tenths of a decibel.
    rows = [case for case in cases("a_weighting").values() if "exact_hz" in case["inputs"]]
    table = [row["inputs"]["exact_hz"] for row in rows]
    weights = [row["expected"] for row in rows]
    octaves = sum(f / math.sqrt(2) * 10 ** (w / 10) for f, w in zip(table, weights, strict=True))
    weighted = FOUR_K * 290 * 10e3 * octaves
    assert dbv(state.destination.a_weighted) == pytest.approx(10 * math.log10(weighted), abs=0.4)


def test_a_sharp_resonance_is_added_up_in_full() -> None:
    # R-L-C without a load: ∫ 4kTR·|H|² over all frequencies is kT/C as well (equipartition).
    # Its quality is 61; nearly all of it lies between 20 Hz and 20 kHz.
    text = """
        instrument = {resistance = 1e3, inductance = 3, capacitance = 800e-12}
        destination = {}
        cables.wire = {}
        chain = [{cable = "wire", length = 0}]
        """
    state = noise_report(parse_board(text), [State("")]).states[0]
    assert state.destination.flat**2 == pytest.approx(FOUR_K * 290 / 4 / 800e-12, rel=1e-3)


def test_gain_lifts_both_and_the_referred_noise_stays() -> None:
    noisy = 'input_noise_voltage = "20 nV/rtHz", gain = '
    quiet, loud = (
        noise_report(board(10e3, amplifier(noisy + gain)), [State("")]).states[0]
        for gain in ("0.0", "20.0")
    )
    assert loud.destination.flat == pytest.approx(10 * quiet.destination.flat)
    assert loud.instrument == pytest.approx(quiet.instrument)


def test_in_series_and_in_parallel_with_the_input() -> None:
    # en sits before the input resistance and is divided by it; in flows through both in parallel;
    # the input resistance is a resistor: all passive noise together is 4kT of the parallel pair.
    stage = (
        'stage = "s", always_on = true, input_resistance = 30e3, output_resistance = 0, '
        "input_noise_voltage = 1e-8, input_noise_current = 1e-12"
    )
    pair = 10e3 * 30e3 / 40e3
    wanted = (1e-8 * 0.75) ** 2 + (1e-12 * pair) ** 2 + FOUR_K * 290 * pair
    assert density(board(10e3, stage), 290.0) ** 2 == pytest.approx(wanted)


def test_parts_of_a_passive_run_by_hand() -> None:
    # 10 kΩ, then a pad of 10 kΩ and 20 kΩ, then 10 kΩ: the voltages of each resistor by hand.
    pad = 'stage = "pad", kind = "pad", series_resistance = 10e3, shunt_resistance = 20e3'
    found = noise(
        Circuit(board(10e3, pad, "input_resistance = 10e3"), np.array([1e3])), ALL_OFF, 290.0
    )
    squared = {who.what: float(part[0]) / FOUR_K / 290 for who, part in found.parts.items()}
    # Everything meets the node at the destination, where 1/20k + 1/20k + 1/10k = 1/5k.
    assert squared["instrument"] == pytest.approx(10e3 * (5e3 / 20e3) ** 2)
    assert squared["stage"] == pytest.approx(10e3 * (5e3 / 20e3) ** 2 + 5e3**2 / 20e3)
    assert squared["destination"] == pytest.approx(5e3**2 / 10e3)
    assert sum(squared.values()) == pytest.approx(5e3)  # Nyquist, for the whole


@settings(max_examples=tries(32, 80))
@seed(41)
@given(boards_in_a_state())
def test_every_part_adds_and_none_takes(case: tuple[Table, frozenset[str], str]) -> None:
    _, on, text = case
    found = noise(Circuit(parse_board(text), grid(20.0, 20e3, 40)), on)
    assert all(np.all(part >= 0) for part in found.parts.values())
    np.testing.assert_allclose(found.total, sum(found.parts.values()))


def without_corners(items: list[Table]) -> list[Table]:
    """Return items without corners of their own, whose resistors make no noise."""
    corners = ("low_pass", "high_pass")
    plain = [{k: v for k, v in item.items() if k not in corners} for item in items]
    inside = [{"inside": without_corners(i["inside"])} if "inside" in i else {} for i in items]
    return [item | more for item, more in zip(plain, inside, strict=True)]


@settings(max_examples=tries(48, 120))
@seed(42)
@given(boards_in_a_state())
def test_random_boards_against_every_part_on_its_own(
    case: tuple[Table, frozenset[str], str],
) -> None:
    table, on, _ = case
    table = {**table, "chain": without_corners(table["chain"])}
    made, f = parse_board(to_toml(table)), np.geomspace(20.0, 20e3, 8)
    for at in ends(table):
        theirs = noise_density(table, on, f, at)
        ours = noise(Circuit(made.heard_at(at), f), on, 290.0).total
        # Differences of Johnson noise before and behind a part cancel digits where a part of
        # milliohms follows one of megohms.
        np.testing.assert_allclose(ours, theirs, rtol=1e-6, err_msg=f"at {at!r}")


@with_ngspice
@settings(max_examples=tries(24, 60))
@seed(43)
@given(boards_in_a_state())
def test_random_boards_in_the_simulator(case: tuple[Table, frozenset[str], str]) -> None:
    # A netlist cannot say a loss tangent, and its cables are 12 sections of R, L and C: up to
    # 0.001 dB. ngspice takes Boltzmann's constant as 1.38064852e-23: 1e-6 dB.
    table, on, text = case
    board, style = without_loss_tangents(parse_board(text)), LineStyle("sections", 12)
    # A resistance under 10 µΩ is written as an equation, which is silent.
    assume("\nH" not in netlist(board, board.state(on), noise=True, style=style).text)
    for at in ends(table):
        made = board.heard_at(at)
        f, theirs = simulated_noise(made, on, style)
        ours = np.sqrt(noise(Circuit(made, f), on).total)
        np.testing.assert_allclose(ours, theirs, rtol=3e-4, atol=0)  # 0.0026 dB


def test_dielectric_loss_is_noisy() -> None:
    # A lossy capacitor C·(1 - j·tanδ) on a source without resistance has no noise across it, in
    # series with 1 GΩ (nearly open) it has 4kT·Re(Z) of itself: Nyquist.
    tan, C = 0.05, 1e-9
    cable = f"capacitance = {C!r}, loss_tangent = {tan!r}"
    made = board(1e12, 'cable = "wire", length = 1', cable=cable)
    jw = 2j * math.pi * 1e3
    alone = (1 / (jw * C + jw.imag * C * tan)).real
    assert density(made, 290.0) ** 2 == pytest.approx(FOUR_K * 290 * alone, rel=1e-3)


def test_stages_without_figures_are_named_and_only_in_the_signals_way() -> None:
    text = """
        instrument = {type = "active", output_resistance = 1e3}
        destination = {}
        chain = [
       {stage = "mute", input_resistance = 1e6, output_resistance = 1e3},
       {stage = "known", input_resistance = 1e6, output_resistance = 1, input_noise_voltage = 1e-8},
        ]
        """
    made = parse_board(text)
    off, on = noise_report(made, [State(""), made.state({"mute", "known"})]).states
    assert off.quiet == ()
    assert on.quiet == ("mute",)
    assert on.incomplete == {"known": "input_noise_current"}


def test_the_figure_for_other_decisions_is_the_reports() -> None:
    made = board(10e3, amplifier("input_noise_voltage = 1e-8, gain = 6.0"))
    state = noise_report(made, [State("")]).states[0]
    alone = a_weighted_noise(made, ALL_OFF)
    assert alone == pytest.approx(dbv(state.destination.a_weighted))
