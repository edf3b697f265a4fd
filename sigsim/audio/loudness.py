"""What a recording holds, measured while it streams by: extremes, level, spectrum."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from sigsim.physics.arrays import FloatArray

# Four-term window of F. J. Harris (Proc. IEEE 66, 1978, table 1, from memory): side lobes under
# -92 dB, so that strong low notes do not pass for treble.
_WINDOW: Final = (0.35875, -0.48829, 0.14128, -0.01168)
_WINDOW_S: Final = 0.15
# Windows transformed at once, so that memory stays small.
_AT_ONCE: Final = 64
# Above this the treble of a recording counts [Hz], and less of it than this [dB] is none.
TREBLE_HZ: Final = 2000.0
_NO_TREBLE_DB: Final = -90.0
# Above this it is not heard [Hz]; common practice, no source.
HEARD_HZ: Final = 16_000.0
# Less than this in a line of a window [-] is nothing.
_NOTHING: Final = 1e-30


@dataclass
class Extremes:
    """The largest and smallest sample, and the sum of squares.

    Attributes
    ----------
    highest, lowest : [full scale]
    energy : of all samples
    """

    highest: float = 0.0
    lowest: float = 0.0
    energy: float = 0.0

    def add(self, block: FloatArray) -> None:
        """Take in some samples, shape (frames, channels)."""
        self.highest = max(self.highest, float(block.max()))
        self.lowest = min(self.lowest, float(block.min()))
        self.energy += float(np.einsum("ij,ij->", block, block))

    @property
    def peak(self) -> float:
        """The largest size of a sample [full scale]."""
        return max(self.highest, -self.lowest)


class Spectrum:
    """The power spectrum of a recording, all channels together.

    Parameters
    ----------
    rate : sample rate [Hz]
    channels : how many
    steady_from : from this frequency [Hz] on, what is there all the time is told from bursts
    """

    def __init__(self, rate: int, channels: int, steady_from: float) -> None:
        self.size = 1 << math.ceil(math.log2(_WINDOW_S * rate))
        turns = 2 * np.pi * np.arange(self.size) / self.size
        self._window = sum(a * np.cos(k * turns) for k, a in enumerate(_WINDOW))
        self.frequency: FloatArray = np.arange(self.size // 2 + 1, dtype=np.float64) * (
            rate / self.size
        )
        self.power: FloatArray = np.zeros(self.frequency.size)
        self._steady = slice(int(np.searchsorted(self.frequency, steady_from)), None)
        self._logarithms, self._sounding = np.zeros(self.frequency[self._steady].size), 0
        # Half a window of silence before and after, so that the first note counts in full.
        self._waiting = np.zeros((channels, self.size // 2))

    def add(self, block: FloatArray) -> None:
        """Take in some samples, shape (frames, channels)."""
        from scipy.fft import rfft

        waiting = np.concatenate([self._waiting, block.T], axis=1)
        hop = self.size // 2
        count = max((waiting.shape[1] - self.size) // hop + 1, 0)
        for first in range(0, count, _AT_ONCE):
            part = waiting[:, first * hop : min(first + _AT_ONCE, count) * hop + hop]
            cut = np.lib.stride_tricks.sliding_window_view(part, self.size, axis=1)[:, ::hop]
            lines = rfft(cut * self._window, axis=2)
            self.power += np.einsum("cij,cij->j", lines.real, lines.real)
            self.power += np.einsum("cij,cij->j", lines.imag, lines.imag)
            high = np.abs(lines[:, :, self._steady].reshape(-1, self._logarithms.size)) ** 2
            high = high[high.any(axis=1)]
            self._logarithms += np.log(np.maximum(high, _NOTHING)).sum(axis=0)
            self._sounding += len(high)
        self._waiting = waiting[:, count * hop :]

    def finish(self) -> None:
        """Count what is still waiting."""
        channels, left = self._waiting.shape
        self.add(np.zeros((2 * self.size - left, channels)))

    def steady(self) -> FloatArray:
        """Return the power of what is there all the time, nothing below `steady_from`.

        The geometric mean over time: bursts, as where a note is cut, hardly count.
        """
        steady = np.zeros(self.power.size)
        if self._sounding:
            steady[self._steady] = np.exp(self._logarithms / self._sounding) * self._sounding
        return steady

    def treble_loss(self, gain: FloatArray, highest: float) -> float | None:
        """Return how much less energy there is above 2 kHz behind a gain [dB].

        Parameters
        ----------
        gain : at `frequency` [-]
        highest : frequency that still counts [Hz]

        Returns
        -------
        positive for a loss; None if the recording has nothing there or nothing comes out
        """
        treble = (self.frequency >= TREBLE_HZ) & (self.frequency <= highest)
        before = float(self.power[treble].sum())
        after = float((self.power * gain**2)[treble].sum())
        if before <= 10 ** (_NO_TREBLE_DB / 10) * float(self.power.sum()) or after <= 0:
            return None
        return 10 * math.log10(before / after)

    def bands(self, fraction: int = 6, lowest: float = 25.0) -> tuple[FloatArray, FloatArray]:
        """Return centres [Hz] and power of bands `fraction` to the octave, empty ones left out."""
        steps = np.arange(math.ceil(math.log2(self.frequency[-1] / lowest) * fraction))
        centre = lowest * 2 ** (steps / fraction)
        half = 2 ** (0.5 / fraction)
        edges = np.searchsorted(self.frequency, np.append(centre / half, centre[-1] * half))
        total = np.append(0.0, np.cumsum(self.power))
        power = total[edges[1:]] - total[edges[:-1]]
        full = (edges[1:] > edges[:-1]) & (power > 0)
        return centre[full], power[full]
