"""What metal near a coil costs: a fractional element across the coil's inductance.

Eddy currents fill thick metal the less deep the faster they change, so that what they take grows
with the root of frequency: an element `R·(jω/ω1)^n` with n = 0.5, `R` being its magnitude at 1 kHz.
With n = 0 it is a resistance, with n = 1 an inductance, and in between it is passive too.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from sigsim.physics.arrays import ComplexArray, Impedance, Value

# Where the loss has the magnitude that a board file gives [rad/s].
LOSS_OMEGA: Final = 2 * math.pi * 1e3


def lossy(jw: ComplexArray, L: Value, R: Value, n: Value) -> Impedance:
    """Return the impedance [Ω] of an inductance with its loss across it.

    Parameters
    ----------
    jw : jω [rad/s], shape (frequency,); 0 is allowed
    L : inductance [H]
    R : magnitude of the loss at 1 kHz [Ω], more than 0
    n : exponent of the loss [-], 0 to 1

    Returns
    -------
    `jωL ∥ R·(jω/ω1)^n`, shape (..., frequency)
    """
    Z: Impedance = jw * L
    if not np.any(n):
        return Z / (1 + Z / R)
    # jωL over the loss: its power is never negative, so that ω = 0 needs no care.
    rest = 1 - n
    turned = (jw.imag / LOSS_OMEGA) ** rest * np.exp(0.5j * math.pi * np.asarray(rest))
    return Z / (1 + LOSS_OMEGA * L / R * turned)
