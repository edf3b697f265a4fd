"""Names for the arrays that carry frequency on their last axis."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeAlias

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    FloatArray: TypeAlias = NDArray[np.float64]
    ComplexArray: TypeAlias = NDArray[np.complex128]
    # A part's value: one number, or one per draw with shape (draws, 1).
    Value: TypeAlias = float | FloatArray
    # An impedance or admittance: anything that broadcasts against (..., frequency).
    Impedance: TypeAlias = float | complex | NDArray[Any]
