"""Arrays of complex numbers as text, for a page that computes with them."""

from __future__ import annotations

import base64
from math import isfinite
from typing import Any

import numpy as np


class Pool:
    """Arrays of complex numbers as text, each different one once.

    Parameters
    ----------
    size : of every array
    """

    def __init__(self, size: int) -> None:
        self.size = size
        self.texts: list[str] = []
        self._known: dict[bytes, int] = {}

    def add(self, value: Any) -> int | list[float]:
        """Return the number of an array, or a constant as its real and imaginary part."""
        if isinstance(value, int | float | complex) and isfinite(abs(value)):
            return [float(value.real), float(value.imag)]
        values = np.asarray(value, dtype="<c16").ravel()
        if np.isfinite(values[0]) and (values == values[0]).all():
            return [float(values[0].real), float(values[0].imag)]
        return self.array(np.broadcast_to(values, self.size))

    def array(self, values: Any) -> int:
        """Return the number of an array; one real part that all share is in it once, in front."""
        both = np.ascontiguousarray(values, dtype="<c16").view("<f8")
        real, imaginary = both[0::2], both[1::2]
        shared = real.tobytes() == real[:1].tobytes() * real.size
        raw = (np.concatenate((real[:1], imaginary)) if shared else both).tobytes()
        if raw not in self._known:
            self._known[raw] = len(self.texts)
            self.texts.append(base64.b64encode(raw).decode())
        return self._known[raw]
