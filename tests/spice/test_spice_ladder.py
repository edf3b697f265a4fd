"""A coil's loss as a ladder: how near it comes, alone and in a circuit, and what is said of it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from helpers.in_process import sigsim_here as sigsim
from helpers.simulator import LEAD, simulated_noise, with_ngspice

from sigsim.board.reader import parse_board
from sigsim.spice.emit_line import LineStyle
from sigsim.spice.ladder import WITHIN_DB, WITHIN_DEGREES, sections
from sigsim.spice.netlist import netlist

FREQUENCY = np.geomspace(20.0, 40e3, 200)
EXPONENTS = (
    *(1e-9, 1e-6, 1e-3, 0.01, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.99),
    *(0.999, 1 - 1e-6, 1 - 1e-9),
)
# Largest differences measured: 2.4e-5 dB and 2.7e-4°. These are what the random boards are held
# to in ngspice, a tenth of the usual limit of `crosscheck`.
DECIBELS, DEGREES = 1e-4, 1e-3

COIL = """
[instrument]
resistance = "8 kΩ"
inductance = "3 H"
capacitance = "100 pF"
loss_resistance = "100 kΩ"
loss_exponent = {}
[destination]
input_resistance = "1 MΩ"
[cables.lead]
capacitance = "100 pF/m"
"""


def _ladder(R: float, n: float, jw: np.ndarray) -> np.ndarray:
    """Return the impedance [Ω] of the sections in series, each a resistor beside an inductor."""
    return np.asarray(sum(s.R * jw * s.L / (s.R + jw * s.L) for s in sections(R, n)))


@pytest.mark.parametrize("n", EXPONENTS)
def test_any_coil_with_any_load_stays_near(n: float) -> None:
    """Against the definition of the element, over all parts there are and well beyond them."""
    random = np.random.default_rng(7)
    jw = 2j * np.pi * FREQUENCY
    exact, ladder = (1j * FREQUENCY / 1e3) ** n, _ladder(1.0, n, jw)

    def drawn(low: float, high: float) -> np.ndarray:
        return np.asarray(np.exp(random.uniform(np.log(low), np.log(high), (2000, 1))))

    # Library: 1 to 10 H, 20 to 200 kΩ; loads from a fuzz or a microphone input to an open probe.
    L, loss, R = drawn(0.05, 25.0), drawn(20e3, 10e6), drawn(10.0, 20e3)
    load = 1 / drawn(500.0, 20e6) + jw * drawn(3e-12, 10e-9)
    H = [1 / (1 + (R + 1 / (1 / (jw * L) + 1 / (loss * Z))) * load) for Z in (exact, ladder)]
    apart = H[1] / H[0]
    assert np.abs(20 * np.log10(np.abs(apart))).max() <= DECIBELS
    assert np.abs(np.degrees(np.angle(apart))).max() <= DEGREES


def test_what_is_said_of_it_is_what_is_promised_and_held() -> None:
    assert (WITHIN_DB, WITHIN_DEGREES) == (0.01, 0.1)
    assert WITHIN_DB > DECIBELS
    assert WITHIN_DEGREES > DEGREES


def test_sections_are_scaled_by_the_resistance() -> None:
    for one, other in zip(sections(1.0, 0.5), sections(2e5, 0.5), strict=True):
        assert pytest.approx((2e5, 2e5)) == (other.R / one.R, other.L / one.L)


@pytest.mark.parametrize("n", ["0", "1"])
def test_both_ends_are_one_plain_part(n: str) -> None:
    made = netlist(parse_board(COIL.format(n) + LEAD))
    assert not made.approximated
    lines = [line for line in made.text.splitlines() if "coil_loss" in line and line[0] in "RL"]
    assert [line[0] for line in lines] == [{"0": "R", "1": "L"}[n]]


def test_the_netlist_says_it() -> None:
    made = netlist(parse_board(COIL.format(0.5) + LEAD))
    (said,) = made.approximated
    assert said == (
        "the coil's loss of exponent 0.5 is written as a ladder, within 0.01 dB and 0.1 degrees "
        "from 20 Hz to 40 kHz"
    )
    assert f"* Nearly: {said}." in made.text.splitlines()
    assert not made.left_out


@with_ngspice
@pytest.mark.parametrize("n", [1e-9, 0.02, 0.5, 0.98, 1 - 1e-9, 1.0])
def test_crosscheck_holds_its_usual_limits_and_says_it(n: float, tmp_path: Path) -> None:
    board = tmp_path / "b.toml"
    board.write_text(COIL.format(repr(n)) + LEAD, encoding="utf-8")
    done = sigsim("crosscheck", board)
    assert done.status == 0, done.out
    noted = "is written as a ladder, within 0.01 dB and 0.1 degrees from 20 Hz to 40 kHz; "
    assert (f"{noted}this program's own side is exact" in done.err) == (n < 1)


@with_ngspice
def test_its_noise_is_that_of_its_resistive_part() -> None:
    """Nyquist's theorem, *Physical Review* 32 (1928) 110: 4kT·Re(Z) of a passive one-port."""
    text = COIL.format(0.5).replace("1 MΩ", "1 TΩ") + LEAD
    f, density = simulated_noise(parse_board(text), frozenset(), LineStyle("sections", 12))
    jw = 2j * np.pi * f
    inside = 8e3 + 1 / (1 / (jw * 3.0) + 1 / (1e5 * (1j * f / 1e3) ** 0.5))
    Z = 1 / (1 / inside + jw * (100e-12 + 500e-12) + 1e-12)
    # ngspice takes Boltzmann's constant as 1.38064852e-23.
    squared = 4 * 1.380649e-23 * 290.0 * Z.real
    np.testing.assert_allclose(density, np.sqrt(squared), rtol=1e-5)
