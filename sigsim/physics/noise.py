"""Noise as one-sided power densities [V²/Hz], which add up where the sources are independent.

A passive one-port of any parts at one temperature has the open-circuit noise 4kT·Re(Z) of its
impedance (H. Nyquist, *Physical Review* 32 (1928) 110). What a passive two-port adds to a source
that it is driven by therefore is the noise of the whole behind it less what the source's own
4kT·Re(Z) has become on the way.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from sigsim.physics.arrays import FloatArray, Impedance, Value
    from sigsim.physics.source import Source

BOLTZMANN: Final = 1.380649e-23  # J/K, exact by the definition of the kelvin (SI, 2019)
ROOM_TEMPERATURE: Final = 290.0  # K, the standard noise temperature


def johnson(Z: Impedance, temperature: float = ROOM_TEMPERATURE) -> FloatArray:
    """Return the density 4kT·Re(Z) [V²/Hz] of a passive impedance `Z` [Ω] at `temperature` [K]."""
    density: FloatArray = 4 * BOLTZMANN * temperature * np.real(np.asarray(Z))
    return density


def johnson_current(Y: Impedance, temperature: float = ROOM_TEMPERATURE) -> FloatArray:
    """Return the density 4kT·Re(Y) [A²/Hz] of a passive admittance `Y` [S] at `temperature` [K]."""
    return johnson(Y, temperature)


def passive_part(before: Impedance, through: Source, temperature: float) -> FloatArray:
    """Return what a passive two-port adds to the noise of the source that drives it.

    Parameters
    ----------
    before : impedance of the driving source [Ω]
    through : what the two-port makes of that impedance with 1 V behind it
    temperature : [K]

    Returns
    -------
    density at the open output [V²/Hz], never less than 0: a lossless part adds nothing
    """
    own = johnson(through.Z, temperature) - np.abs(through.E) ** 2 * johnson(before, temperature)
    return np.maximum(own, 0.0)


def amplifier_input(en: Value, i_n: Value, Z: Impedance) -> FloatArray:
    """Return `en² + |in·Z|²` [V²/Hz], an amplifier's noise in series with its source.

    Parameters
    ----------
    en : voltage noise of the input [V/√Hz]
    i_n : current noise of the input [A/√Hz]
    Z : impedance of the source at the input terminals [Ω]
    """
    density: FloatArray = en**2 + np.abs(i_n * np.asarray(Z)) ** 2
    return density


def band_power(density: FloatArray, frequency: FloatArray) -> FloatArray:
    """Return the power [V²] of a density over a band, by the trapezoidal rule in ln f.

    Parameters
    ----------
    density : [V²/Hz], shape (..., frequency)
    frequency : [Hz], evenly spaced in pitch, shape (frequency,)

    Returns
    -------
    shape (...,). In ln f a resonance is a smooth bump, for which this rule converges faster than
    any power of the step.
    """
    step = np.log(frequency[-1] / frequency[0]) / (frequency.size - 1)
    # Where no signal gets through, the density referred to the instrument is infinite.
    with np.errstate(all="ignore"):
        per_step = density * frequency
        ends = (per_step[..., 0] + per_step[..., -1]) / 2
        power: FloatArray = step * (per_step.sum(axis=-1) - ends)
    return power
