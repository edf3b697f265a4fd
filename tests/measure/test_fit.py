"""The fit against closed forms of linear theory, and how it says what it does not know."""

from __future__ import annotations

import numpy as np
import pytest
from helpers.made_ratios import GRID

from sigsim.measure.figures import combined, plain, reciprocal
from sigsim.measure.observed import best_delay, observe
from sigsim.measure.response import Ratio
from sigsim.measure.solving import solve
from sigsim.measure.unknowns import Unknown, told
from sigsim.units import Quantity

SIGMA = 1e-3
# What a ratio's own gain is told to within, by the contract: 0.01 dB between two recordings, 95 of
# 100, so that each has 0.01/1.96/√2 dB.
GAIN = 0.01 / 1.96 / np.sqrt(2) * np.log(10) / 20


def _ratio(log: np.ndarray, sigma: float | None = SIGMA, delayed: bool = False) -> Ratio:
    errors = None if sigma is None else np.full(GRID.shape, sigma)
    return Ratio("made", GRID, np.exp(log), errors, delayed)


def _slope(name: str = "slope") -> Unknown:
    return Unknown(name, 0.5, -10.0, 10.0, log=False)


def _line(values: dict[str, np.ndarray], jw: np.ndarray) -> np.ndarray:
    octaves = np.log2(jw.imag / (2 * np.pi * 1e3))
    return np.exp(values["level"] + values["slope"] * octaves + 0j)


def test_a_straight_line_is_that_of_linear_regression() -> None:
    """Against numpy.linalg.lstsq, with the gain and its prior as one more row (Gauss-Markov)."""
    rng, octaves = np.random.default_rng(1), np.log2(GRID / 1e3)
    noise = SIGMA * (rng.standard_normal(GRID.size) + 1j * rng.standard_normal(GRID.size))
    log = 0.1 + 0.03 * octaves + noise
    level = Unknown("level", 0.0, -10.0, 10.0, log=False)
    solved = solve((level, _slope()), [observe(_ratio(log), _line)])  # type: ignore[arg-type]
    rows = np.stack((np.ones_like(octaves), octaves, np.ones_like(octaves)), -1) / SIGMA
    rows = np.vstack((rows, [0.0, 0.0, 1 / GAIN]))
    wanted = np.linalg.lstsq(rows, np.append(log.real / SIGMA, 0.0), rcond=None)[0]
    covariance = np.linalg.inv(rows.T @ rows)
    assert solved.value("level") == pytest.approx(wanted[0], abs=1e-5)
    assert solved.value("slope") == pytest.approx(wanted[1], abs=1e-5)
    # Bins of a 48th of an octave, the floor of 1e-4 and the residual's own scatter: some per cent.
    assert solved.sigma("level") == pytest.approx(np.sqrt(covariance[0, 0]), rel=0.1)
    assert solved.sigma("slope") == pytest.approx(np.sqrt(covariance[1, 1]), rel=0.1)


@pytest.mark.parametrize("delay", [43e-6, -601e-6, 2.7e-3])
def test_a_delay_is_found_and_taken_out(delay: float) -> None:
    """Behind a coil that resonates at 600 Hz with a Q of 3 most arrives after Q/πf = 1.6 ms."""
    late = -2j * np.pi * GRID * delay
    # Delays are tried every 4 µs.
    assert best_delay(GRID, np.angle(np.exp(late))) == pytest.approx(delay, abs=2.1e-6)
    level = Unknown("level", 0.0, -10.0, 10.0, log=False)
    ratio = _ratio(0.1 + 0.03 * np.log2(GRID / 1e3) + late, delayed=True)
    solved = solve((level, _slope()), [observe(ratio, _line)])  # type: ignore[arg-type]
    assert solved.value("slope") == pytest.approx(0.03, abs=1e-6)
    assert solved.observed[0].delay + solved.value("delay 0") == pytest.approx(delay, abs=1e-9)


def test_what_was_told_is_what_remains_where_nothing_shows() -> None:
    """An even spread of half width h has the standard deviation h/√3 (JCGM 100:2008, 4.3.7)."""
    unseen = told("unseen", Quantity(100.0, 0.03))
    level = Unknown("level", 0.0, -10.0, 10.0, log=False)
    flat = observe(_ratio(np.full(GRID.shape, 0.1 + 0j)), lambda v, jw: np.exp(v["level"] + 0 * jw))
    figure = plain(solve((level, unseen), [flat]), "unseen", "Ω")
    assert figure.value == pytest.approx(100.0)
    assert figure.low is not None
    assert figure.low == pytest.approx(100.0 - 1.96 * 3.0 / np.sqrt(3), rel=1e-3)


def test_one_over_what_may_be_nothing_has_one_end() -> None:
    none = Unknown("conductance", 1e-7, 0.0, 1.0, False, 1e-7)
    flat = observe(
        _ratio(np.zeros(GRID.shape, dtype=complex)),
        lambda v, jw: 1 / (1 + 1e5 * v["conductance"]) + 0 * jw,
    )
    figure = reciprocal(solve((none,), [flat]), "conductance", "Ω")
    assert figure.value is None
    assert figure.high is None
    # All that is open is the gain: 1e5 Ω times the conductance is at most 1.96 of its sigma. A
    # search comes close to a bound only in small steps, so that the figure may be on the safe side.
    assert figure.low is not None
    assert 0.7 <= figure.low / (1e5 / (1.96 * GAIN)) <= 1.0


def test_a_combination_has_the_interval_of_its_parts() -> None:
    """Independent relative errors add as squares (JCGM 100:2008, 5.1.6)."""
    level = Unknown("level", 0.0, -10.0, 10.0, log=False)
    flat = observe(_ratio(np.full(GRID.shape, 0.1 + 0j)), lambda v, jw: np.exp(v["level"] + 0 * jw))
    a, b = told("a", Quantity(3.0, 0.03)), told("b", Quantity(2.0, 0.04))
    figure = combined(solve((level, a, b), [flat]), lambda v: v["a"] / v["b"], "")
    assert figure.value == pytest.approx(1.5)
    assert figure.high is not None
    assert np.log(figure.high / 1.5) == pytest.approx(1.96 * 0.05 / np.sqrt(3), rel=1e-3)


def test_a_table_shows_its_own_errors() -> None:
    rng = np.random.default_rng(3)
    noise = 0.02 * (rng.standard_normal(GRID.size) + 1j * rng.standard_normal(GRID.size))
    level = Unknown("level", 0.0, -10.0, 10.0, log=False)
    ratio = _ratio(0.1 + 0.03 * np.log2(GRID / 1e3) + noise, None)
    solved = solve((level, _slope()), [observe(ratio, _line)])  # type: ignore[arg-type]
    # Standard error of a slope: sigma over the root of the sum of squares of the abscissa.
    octaves = np.log2(GRID / 1e3)
    wanted = 0.02 / np.sqrt(np.sum((octaves - octaves.mean()) ** 2))
    assert solved.sigma("slope") == pytest.approx(wanted, rel=0.2)
