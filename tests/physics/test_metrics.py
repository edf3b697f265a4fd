"""Level, loss, corner and resonance against closed forms, and against a fine grid on any board.

The closed forms are those of a first-order and a second-order low-pass (any circuits textbook).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
import pytest
from helpers.boards import Table, boards_in_a_state
from helpers.thinned import tries
from hypothesis import given, seed, settings
from numpy.typing import NDArray

from sigsim import metrics
from sigsim.board.reader import parse_board
from sigsim.states.response import response

Array: TypeAlias = NDArray[Any]
Curve: TypeAlias = Callable[[Array], Array]


@dataclass(frozen=True)
class Against:
    """A response with a reference, both as formulas."""

    curve: Curve
    reference: Curve

    def __call__(self, frequency: Array) -> Array:
        """Return H."""
        return self.curve(frequency)


def flat(frequency: Array) -> Array:
    """Change nothing."""
    return np.ones_like(frequency, dtype=complex)


def low_pass(corner: float) -> Curve:
    """Return a first-order low-pass."""
    return lambda f: 1 / (1 + 1j * f / corner)


def resonant(f0: float, Q: float) -> Curve:
    """Return a second-order low-pass: a coil with a cable."""
    return lambda f: 1 / (1 - (f / f0) ** 2 + 1j * f / (f0 * Q))


def board(instrument: str, destination: str) -> Any:
    """Return the response of two ends joined by a wire."""
    text = f"instrument = {{{instrument}}}\ndestination = {{{destination}}}\ncables.c = {{}}\n"
    return response(parse_board(text + 'chain = [{cable = "c", length = 0}]'))


def test_level_is_the_gain_at_100_hz() -> None:
    made = board('type = "active", output_resistance = 3e3', "input_resistance = 1e3")
    assert metrics.level(made) == pytest.approx(20 * math.log10(1 / 4), abs=1e-12)
    # 100 Hz is where this low-pass has lost half its power.
    assert metrics.level(low_pass(100.0)) == pytest.approx(-10 * math.log10(2), abs=1e-12)


@pytest.mark.parametrize("corner", [150.0, 1e3, 9_876.5, 39_000.0])
def test_corner_of_a_first_order_low_pass(corner: float) -> None:
    # Half of the power at 100 Hz: 1 + (f/fc)² = 2·(1 + (100/fc)²).
    wanted = math.sqrt(corner**2 + 2 * 100.0**2)
    # The promise is 0.1 Hz; a hundredth of it shows that the model is solved and not the grid.
    assert metrics.corner(low_pass(corner)) == pytest.approx(wanted, abs=1e-3)


def test_corner_of_a_board() -> None:
    made = board('type = "active", output_resistance = "10k"', 'input_capacitance = "1n"')
    wanted = math.hypot(1 / (2 * math.pi * 1e-5), 100 * math.sqrt(2))
    assert metrics.corner(made) == pytest.approx(wanted, abs=1e-3)


def test_no_corner_without_a_fall_of_half_the_power() -> None:
    assert metrics.corner(flat) is None
    assert metrics.corner(low_pass(40_100.0)) is None
    assert metrics.corner(lambda f: 1 + 1j * f / 1e3) is None


def test_corner_is_the_last_crossing() -> None:
    def with_a_notch(f: Array) -> Array:
        notch = 1 - 0.9 / (1 + 1j * 5 * (f / 1e3 - 1e3 / f))
        return np.asarray(notch / (1 + 1j * f / 10e3))

    assert abs(with_a_notch(np.array([1e3]))[0]) < 0.2
    assert metrics.corner(with_a_notch) == pytest.approx(10e3, rel=0.02)
    assert metrics.corner(lambda f: with_a_notch(f) * (1 + 1j * f / 10e3)) is None


@pytest.mark.parametrize(("f0", "Q"), [(600.0, 0.9), (3e3, 3.0), (5_432.1, 30.0), (20e3, 2.0)])
def test_resonance_of_a_second_order_low_pass(f0: float, Q: float) -> None:
    curve = resonant(f0, Q)
    wanted = f0 * math.sqrt(1 - 1 / (2 * Q**2))
    height = 20 * np.log10(np.abs(curve(np.array([wanted, 100.0]))))
    found = metrics.resonance(curve)
    assert found is not None
    # At a maximum the height fixes the frequency only to the root of a rounding error.
    assert found.frequency == pytest.approx(wanted, rel=1e-5)
    assert found.height == pytest.approx(height[0] - height[1], abs=1e-6)


def test_resonance_of_a_board() -> None:
    made = board('resistance = "8k", inductance = "3 H"', 'input_capacitance = "600 pF"')
    f0, Q = 1 / (2 * math.pi * math.sqrt(3 * 600e-12)), math.sqrt(3 / 600e-12) / 8e3
    found = metrics.resonance(made)
    assert found is not None
    assert found.frequency == pytest.approx(f0 * math.sqrt(1 - 1 / (2 * Q**2)), rel=1e-5)


def test_a_resonance_lower_than_a_tenth_of_a_decibel_is_none() -> None:
    # The height of a second-order low-pass over its zero-frequency level: Q²/sqrt(Q² - 1/4).
    def height(Q: float) -> float:
        return 20 * math.log10(Q**2 / math.sqrt(Q**2 - 0.25))

    assert height(0.76) < 0.1 < height(0.77)  # and the level at 100 Hz is 0.0001 dB higher
    assert metrics.resonance(resonant(10e3, 0.76)) is None
    found = metrics.resonance(resonant(10e3, 0.77))
    assert found is not None
    assert found.height == pytest.approx(height(0.77), abs=1e-3)
    assert metrics.resonance(flat) is None
    assert metrics.resonance(low_pass(1e3)) is None


def test_highest_of_several_resonances() -> None:
    def two_peaks(f: Array) -> Array:
        low, high = 1 + 20j * (f / 1e3 - 1e3 / f), 1 + 20j * (f / 7e3 - 7e3 / f)
        return np.asarray(1 + 2 / low + 3 / high)

    found = metrics.resonance(two_peaks)
    assert found is not None
    assert found.frequency == pytest.approx(7e3, rel=1e-3)


# IEC 61260-1, base ten: 1000·10^(n/10), n = 3 … 9, here to 0.01 Hz as tables print them.
THIRD_OCTAVES = (1995.26, 2511.89, 3162.28, 3981.07, 5011.87, 6309.57, 7943.28)


def test_treble_loss_is_the_mean_over_seven_third_octaves_less_the_loss_at_100_hz() -> None:
    made = Against(low_pass(4e3), flat)
    losses = [10 * math.log10(1 + (f / 4e3) ** 2) for f in THIRD_OCTAVES]
    at_level = 10 * math.log10(1 + (100 / 4e3) ** 2)
    # A hundredth of a hertz moves the mean by less than 1e-5 dB.
    assert metrics.treble_loss(made) == pytest.approx(sum(losses) / 7 - at_level, abs=1e-5)
    wider = [10 * math.log10(1 + (1000 * 10 ** (n / 10) / 4e3) ** 2) for n in range(7)]
    expected = sum(wider) / 7 - at_level
    assert metrics.treble_loss(made, (1000.0, 4000.0)) == pytest.approx(expected, abs=1e-9)


def test_a_change_of_level_is_no_treble() -> None:
    """A chain that makes everything 2.5 dB louder alike has lost and gained no treble."""
    louder = Against(lambda f: 10 ** (2.5 / 20) * low_pass(4e3)(f), low_pass(4e3))
    assert metrics.treble_loss(louder) == pytest.approx(0.0, abs=1e-12)
    assert metrics.loss(louder, np.array([100.0]))[0] == pytest.approx(-2.5)


def test_loss_is_negative_where_the_board_adds() -> None:
    moved = Against(resonant(2e3, 2.0), resonant(5e3, 2.0))
    loss = metrics.loss(moved, np.array([1e3, 2e3, 4e3, 8e3]))
    assert loss[1] < 0 < loss[2]
    swapped = metrics.loss(Against(moved.reference, moved.curve), np.array([1e3, 2e3, 4e3, 8e3]))
    np.testing.assert_allclose(swapped, -loss, rtol=1e-12)


@pytest.mark.parametrize(
    ("loss", "word"),
    [
        # The word is that of the printed value: 0.96 is printed as 1.0.
        *((-3.0, "brighter"), (-1.06, "brighter"), (-1.04, "negligible"), (0.0, "negligible")),
        *((0.94, "negligible"), (0.96, "slight"), (2.94, "slight"), (2.96, "clear")),
        *((5.94, "clear"), (5.96, "heavy")),
        *((6.0, "heavy"), (50.0, "heavy")),
        (math.inf, "heavy"),
    ],
)
def test_words(loss: float, word: str) -> None:
    assert metrics.verdict(loss) == word


def test_silence_has_no_corner_and_no_resonance() -> None:
    made = board('resistance = "8k", volume_track = "250k", volume = 0', "")
    assert metrics.level(made) == -math.inf
    assert metrics.corner(made) is None
    assert metrics.resonance(made) is None


FINE = np.geomspace(100.0, 40e3, 8_001)  # 926 an octave


def over_level(curve: Curve, frequency: Array) -> Array:
    """Return the gain [dB] over that at 100 Hz."""
    gain: Array = 20 * np.log10(np.abs(curve(np.append(100.0, frequency))))
    return np.asarray(gain[1:] - gain[0])


@settings(max_examples=tries(60, 150))
@seed(31)
@given(boards_in_a_state())
def test_corner_and_resonance_of_any_board_agree_with_a_fine_grid(
    case: tuple[Table, frozenset[str], str],
) -> None:
    _, on, text = case
    made = response(parse_board(text), on)
    if not made.H.all():
        return
    height = over_level(made, FINE)
    corner, half = metrics.corner(made), -10 * math.log10(2)
    if corner is None:
        assert height[-1] > half
    else:
        # The steepest slopes here are some dB per hertz at a resonance, so 1e-3 dB is under 0.1 Hz.
        assert over_level(made, np.array([corner]))[0] == pytest.approx(half, abs=1e-3)
        assert np.all(height[corner < FINE] <= half)
    inner = height[1:-1]
    peaks = inner[(inner > height[:-2]) & (inner >= height[2:])]
    found = metrics.resonance(made)
    if found is None:
        assert not peaks.size or peaks.max() < 0.1
    else:
        assert found.height == pytest.approx(over_level(made, np.array([found.frequency]))[0])
        assert found.height >= peaks.max() - 1e-6
        around = over_level(made, found.frequency * np.array([1 - 1e-4, 1 + 1e-4]))
        assert np.all(around <= found.height)


def test_rows_have_the_corners_and_resonances_of_each_alone() -> None:
    alone = [low_pass(1e3), low_pass(40_100.0), resonant(10e3, 0.76), resonant(5e3, 6.0), silent]

    def rows(f: Array) -> Array:
        own = f if f.ndim == 2 else np.broadcast_to(f, (len(alone), f.size))
        return np.array([curve(at) for curve, at in zip(alone, own, strict=True)])

    corners, (peaks, heights) = metrics.corners(rows), metrics.resonances(rows)
    for curve, corner, peak, height in zip(alone, corners, peaks, heights, strict=True):
        found = metrics.resonance(curve)
        wanted = (np.nan, np.nan) if found is None else (found.frequency, found.height)
        # The same formulas: rounding of arrays of another shape.
        assert corner == pytest.approx(metrics.corner(curve) or np.nan, rel=1e-12, nan_ok=True)
        assert (peak, height) == pytest.approx(wanted, rel=1e-9, nan_ok=True)
    assert metrics.levels(rows).tolist() == [metrics.level(curve) for curve in alone]


def silent(frequency: Array) -> Array:
    """Let nothing through."""
    return np.zeros(frequency.shape, dtype=complex)
