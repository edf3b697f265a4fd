"""Coils that others measured, through the recipe for pickups.

Data: strayr/pickupAnalyseR-data (public, CC0 1.0); `reference/measured/` says how they were made.
M. Zollner, Physik der Elektrogitarre, p. 5-111: `reference/published/coil_without_metal.toml`.
"""

from __future__ import annotations

import tomllib
from functools import cache

import numpy as np
import pytest
from helpers.made_ratios import GRID, Bench, Instrument
from helpers.measured import (
    CAPACITOR_F,
    CENTRES,
    COILS,
    LOAD_F,
    LOAD_OHM,
    PROBE_F,
    PROBE_OHM,
    TAPPED,
    measured,
    measured_loss,
)
from helpers.reference import file
from helpers.thinned import some

from sigsim.items.instrument import PassiveInstrument
from sigsim.measure.known import Across, Known
from sigsim.measure.recipes.measure import fit
from sigsim.measure.response import Ratio
from sigsim.units import Quantity

WHOLE = [number for number in COILS if number not in TAPPED]
COIL = ("resistance", "inductance", "capacitance", "loss_resistance", "loss_exponent")
BENCH = {
    "probe": Across(Quantity(PROBE_OHM), Quantity(PROBE_F)),
    "loads": (Across(capacitance=Quantity(CAPACITOR_F, 0.01)),),
}


def _found(frequency: np.ndarray, T: np.ndarray, exponent: float | None) -> PassiveInstrument:
    told = None if exponent is None else Quantity(exponent)
    ratio = Ratio("capacitor.csv", frequency, T, None)
    found = fit("pickup", {"loaded": [ratio]}, Known(**BENCH, loss_exponent=told)).figures  # type: ignore[arg-type]
    return PassiveInstrument(**{key: found[key].value for key in COIL})  # type: ignore[arg-type]


def _predicted_loss(coil: PassiveInstrument) -> float:
    jw = 2j * np.pi * CENTRES
    source, probe = coil.source(jw), 1 / PROBE_OHM + jw * PROBE_F
    loaded = source.into(probe + 1 / LOAD_OHM + jw * LOAD_F)
    return float(20 * np.log10(np.abs(source.into(probe) / loaded)).mean())


@cache
def _error(number: int, exponent: float | None, around: bool = False) -> float:
    run = measured(number)
    f, T = (run.frequency, run.capacitor) if not around else _with_rubbish(number)
    return abs(_predicted_loss(_found(f, T, exponent)) - measured_loss(number))


def _with_rubbish(number: int) -> tuple[np.ndarray, np.ndarray]:
    """Return a run that goes on where the exciter is not heard, down to 20 Hz and up to 20 kHz."""
    run, rng = measured(number), np.random.default_rng(number)
    low, high = np.geomspace(20.0, 95.0, 25), np.geomspace(9.9e3, 20e3, 12)
    hum = np.exp(rng.normal(0, 0.3, 25) + 1j * rng.normal(0, 0.3, 25))
    noise = np.exp(rng.normal(0.3, 0.5, 12) + 1j * rng.uniform(-3, 3, 12))
    found = np.concatenate((hum, run.capacitor, np.abs(run.capacitor[-1]) * noise))
    return np.concatenate((low, run.frequency, high)), found


# The levels of two runs of one coil differ by about 0.1 dB: closer than that none can come.
@pytest.mark.parametrize("exponent", [0.5, None])
@pytest.mark.parametrize("around", [False, True])
def test_another_load_is_predicted(exponent: float | None, around: bool) -> None:
    coils = some(WHOLE, 4) if around else WHOLE
    errors = [_error(number, exponent, around) for number in coils]
    assert np.median(errors) <= 0.12
    assert max(errors) <= 0.7


def test_a_plain_resistance_is_further_off() -> None:
    plain, growing = ([_error(n, e) for n in WHOLE] for e in (0.0, 0.5))
    assert np.median(plain) >= 1.3 * np.median(growing)


def test_a_delay_in_a_table_is_found() -> None:
    """A table of two recordings that began at different times."""
    made = Instrument(R=7e3, L=3.5, C=120e-12, loss=250e3, track=None, wiring=0.0)
    bare = made.heard(PROBE_OHM, PROBE_F)
    T = made.heard(PROBE_OHM, PROBE_F, CAPACITOR_F) / bare
    late = T * np.exp(-2j * np.pi * GRID * 30e-6)
    found = _found(GRID, late, 0.5)
    # Nothing but the load's own value is open, and that is exact here.
    assert found.inductance == pytest.approx(3.5, rel=1e-3)
    assert found.loss_resistance == pytest.approx(250e3, rel=1e-3)


def test_resonances_of_a_coil_without_metal() -> None:
    """From the resistor method to the three resonances that are printed, within 1 %."""
    published = tomllib.loads(file("coil_without_metal").read_text(encoding="utf-8"))["cases"]
    bench = Bench(np.random.default_rng(5))
    for case in published:
        of = case["inputs"]
        # Without metal there is no loss but that of the wire: a loss far beyond what shows.
        made = Instrument(
            R=of["resistance_ohm"], L=of["inductance_h"], C=of["capacitance_f"] + of["added_f"],
            loss=1e12, n=0.0, track=None, wiring=0.0,
        )  # fmt: skip
        ratios = {"before": [bench.over_loop("b")], "with": [bench.over_loop("w", made.at(1.0))]}
        known = Known(
            resistor=Quantity(100e3, 0.005), output_resistance=Quantity(150.0, 0.1),
            volume_track=Quantity(1e12), loss_exponent=Quantity(0.0),
        )  # fmt: skip
        found = fit("pickup", ratios, known).figures
        L, C = found["inductance"].value, found["capacitance"].value
        assert isinstance(L, float)
        assert isinstance(C, float)
        # Far above R the peak is where the reactances cancel; Q is over 8 in all three.
        assert 1 / (2 * np.pi * np.sqrt(L * C)) == pytest.approx(case["expected"], rel=0.01)
