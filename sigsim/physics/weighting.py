"""A-weighting: how much less the ear minds low and very high frequencies at a low level."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from sigsim.physics.arrays import FloatArray

# Pole frequencies [Hz], and the offset [dB] that makes the weighting 0 dB at 1 kHz:
# IEC 61672-1:2013, annex E.
POLES: Final = (20.60, 107.7, 737.9, 12194.0)
OFFSET_DB: Final = 2.000


def a_weighting_db(frequency: FloatArray) -> FloatArray:
    """Return the A-weighting [dB] at frequencies [Hz], more than zero."""
    return _unnormalised_db(frequency) + OFFSET_DB


def a_weighting_power(frequency: FloatArray) -> FloatArray:
    """Return the factor [-] that A-weights a power density at frequencies [Hz]."""
    factor: FloatArray = 10 ** (a_weighting_db(frequency) / 10)
    return factor


def _unnormalised_db(frequency: FloatArray) -> FloatArray:
    """Return the response of the poles [dB]: two each at the lowest and highest, four zeros at 0.

    IEC 61672-1:2013, annex E, the quotient in the logarithm.
    """
    square = np.asarray(frequency, dtype=float) ** 2
    f1, f2, f3, f4 = (pole**2 for pole in POLES)
    share = (
        f4 * square**2 / ((square + f1) * np.sqrt((square + f2) * (square + f3)) * (square + f4))
    )
    decibels: FloatArray = 20 * np.log10(share)
    return decibels
