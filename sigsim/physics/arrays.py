"""Names for the arrays that carry frequency on their last axis."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    FloatArray: TypeAlias = NDArray[np.float64]
    ComplexArray: TypeAlias = NDArray[np.complex128]
    # A part's value: one number, or one per draw with shape (draws, 1).
    Value: TypeAlias = float | FloatArray
    # An impedance or admittance: anything that broadcasts against (..., frequency).
    Impedance: TypeAlias = float | complex | NDArray[Any]


def scalar(value: Value) -> float:
    """Return one number for a value that may be many draws: the number itself, or their mean.

    A number keeps what it knows of itself, such as how it was written.
    """
    return value if isinstance(value, float) else float(np.mean(value))
