"""Measured coils: fitted to one run without the program, another run predicted with it.

The data, how they were measured and what was found are in `reference/measured/`.
"""

from __future__ import annotations

from functools import cache
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from helpers.published import WIRE, board, coil
from helpers.reference import REFERENCE

COILS: Final = range(1, 14)
# Single halves of tapped bass pickups, the other half beside them.
TAPPED: Final = (1, 2)
# Base-ten third-octave centres from 2 to 8 kHz (IEC 61260-1) [Hz].
CENTRES: Final = 1000.0 * 10.0 ** (np.arange(3, 10) / 10)
PROBE_OHM, PROBE_F = 10e6, 20e-12
CAPACITOR_F = 10e-9
LOAD_OHM, LOAD_F = 200e3, 470e-12
LOWEST, HIGHEST = 300.0, 7000.0
# Where the search starts [Ω, H, F, Ω]: coils of many turns and of few, little loss and much.
STARTS: Final = ((6e3, 3.0, 100e-12, 3e5), (8e3, 5.0, 50e-12, 1e6), (5e3, 1.5, 1e-10, 8e4))

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]


class Measured(NamedTuple):
    """One coil: frequency [Hz], capacitor run and load run over the open run [-]."""

    frequency: Floats
    capacitor: Complexes
    load: Complexes


class Fitted(NamedTuple):
    """Parts of a coil [Ω, H, F], and the magnitude of its loss at 1 kHz [Ω]."""

    R: float
    L: float
    C: float
    loss: float


@cache
def measured(number: int) -> Measured:
    """Return what was measured of a coil."""
    path = REFERENCE / "measured" / f"coil-{number:02}.csv"
    table = np.genfromtxt(path, delimiter=",", names=True)

    def run(name: str) -> Complexes:
        angle = np.radians(table[f"{name}_deg"])
        return np.asarray(10 ** (table[f"{name}_db"] / 20) * np.exp(1j * angle))

    return Measured(table["frequency_hz"], run("capacitor"), run("load"))


def measured_loss(number: int) -> float:
    """Return the mean loss [dB] of the load run at the seven centres."""
    found = measured(number)
    decibels = 20 * np.log10(np.abs(found.load))
    return -float(np.interp(np.log(CENTRES), np.log(found.frequency), decibels).mean())


def _capacitor_run(parts: Floats, exponent: float, frequency: Floats) -> Complexes:
    """Return the capacitor run over the open run [-] of a coil of these parts."""
    R, L, C, loss = parts
    jw = 2j * np.pi * frequency
    inside = R + 1 / (1 / (jw * L) + 1 / (loss * (1j * frequency / 1e3) ** exponent))
    Z = 1 / (1 / inside + jw * C)
    probe = 1 / PROBE_OHM + jw * PROBE_F
    run: Complexes = (1 + Z * probe) / (1 + Z * (probe + jw * CAPACITOR_F))
    return run


@cache
def fitted(number: int, exponent: float) -> Fitted:
    """Return the parts that fit the capacitor run best, by the complex logarithm."""
    found = measured(number)
    within = (found.frequency >= LOWEST) & (found.frequency <= HIGHEST)
    frequency, run = found.frequency[within], found.capacitor[within]

    def apart(logarithms: Floats) -> Floats:
        off = np.log(_capacitor_run(np.exp(logarithms), exponent, frequency) / run)
        return np.concatenate((off.real, off.imag))

    tried = [least_squares(apart, np.log(start), x_scale="jac") for start in STARTS]
    best: Any = min(tried, key=lambda result: result.cost)
    R, L, C, loss = map(float, np.exp(best.x))
    # Less than a femtofarad is none.
    return Fitted(R, L, C if C > 1e-15 else 0.0, loss)


def predicted_loss(number: int, exponent: float) -> float:
    """Return the mean loss [dB] at the seven centres that the program gives for the load run."""
    R, L, C, loss = fitted(number, exponent)
    keys = f", loss_resistance = {loss!r}, loss_exponent = {exponent!r}"
    instrument = coil(L, C, R, keys)
    is_open = board(instrument, WIRE, _input(PROBE_OHM, PROBE_F))
    both = PROBE_OHM * LOAD_OHM / (PROBE_OHM + LOAD_OHM)
    loaded = board(instrument, WIRE, _input(both, PROBE_F + LOAD_F))
    ratio = np.abs(is_open(CENTRES) / loaded(CENTRES))
    return float(20 * np.log10(ratio).mean())


def _input(resistance: float, capacitance: float) -> str:
    return f"input_resistance = {resistance!r}, input_capacitance = {capacitance!r}"


def error(number: int, exponent: float) -> float:
    """Return how far the predicted mean loss is from the measured one [dB]."""
    return predicted_loss(number, exponent) - measured_loss(number)
