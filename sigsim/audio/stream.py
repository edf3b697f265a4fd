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
# A filter of more taps gets the smallest transform that has room for as much again, and a block
# holds at most so many samples of all channels: then memory stays bounded.
_LONG: Final = 1 << 16
_MOST_SAMPLES: Final = 1 << 21


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
        times = _TIMES if taps.size <= _LONG else 2
        self.size = max(_LEAST, 1 << math.ceil(math.log2(times * taps.size)))
        self.longest = min(self.size - self.memory, _MOST_SAMPLES // channels)
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
        out: FloatArray = np.empty(block.shape)
        for channel, before in enumerate(self._before):  # one at a time: transforms are long
            heard = np.concatenate([before, block[:, channel]])
            spectrum = rfft(heard, self.size)
            spectrum *= self._response
            filtered = irfft(spectrum, self.size, overwrite_x=True)
            out[:, channel] = filtered[self.memory : self.memory + len(block)]
            before[:] = heard[heard.size - self.memory :]
        return out
