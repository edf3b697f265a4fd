"""A filter over a recording of any length, block by block, in bounded memory.

Overlap-save (A. V. Oppenheim, R. W. Schafer, *Discrete-Time Signal Processing*, section 8.7, from
memory): each block is transformed together with the samples before it that still ring.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from sigsim.physics.arrays import FloatArray

# The transform: at least this long, and at least so many times the filter.
_LEAST: Final = 1 << 16
_TIMES: Final = 4


class Convolver:
    """A filter that remembers what it has heard.

    Parameters
    ----------
    taps : impulse response, shape (taps,)
    channels : how many
    """

    def __init__(self, taps: FloatArray, channels: int) -> None:
        from scipy.fft import rfft

        self.memory = taps.size - 1
        self.size = max(_LEAST, 1 << math.ceil(math.log2(_TIMES * taps.size)))
        self.longest = self.size - self.memory
        self._before = np.zeros((channels, self.memory))
        self._taps, self._response = taps, rfft(taps, self.size)

    def __call__(self, block: FloatArray) -> FloatArray:
        """Return the next samples.

        Parameters
        ----------
        block : shape (frames, channels), at most `longest` frames

        Returns
        -------
        as many, aligned with the input
        """
        from scipy.fft import irfft, rfft

        if not self.memory:
            return block * self._taps  # exact, which a transform is not
        assert len(block) <= self.longest, "a block longer than the transform has room for"
        heard = np.concatenate([self._before, block.T], axis=1)
        self._before = heard[:, heard.shape[1] - self.memory :]
        filtered = irfft(rfft(heard, self.size, axis=1) * self._response, self.size, axis=1)
        out: FloatArray = filtered[:, self.memory : self.memory + len(block)].T
        return out
