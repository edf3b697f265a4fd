"""A virtual bench: an audio interface and what is plugged into it, for a demonstration.

It makes the recordings that an interface would: the sweep through a circuit, late by no whole
number of samples, with noise and hum. It plays and records by one clock, as an interface does.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final, TypeAlias

import numpy as np

from sigsim.physics.source import Source, angular

if TYPE_CHECKING:
    from sigsim.physics.arrays import ComplexArray, FloatArray, Impedance

    # An admittance [S] or a response [-] at jω [rad/s].
    Of: TypeAlias = Callable[[ComplexArray], Impedance]

# A response is computed at so many frequencies, and read between them.
_POINTS: Final = 4000
_LOWEST_HZ: Final = 1.0
# The longest wait before a recording hears something [s].
_LATEST_S: Final = 0.4


@dataclass(frozen=True)
class Interface:
    """An invented audio interface.

    Attributes
    ----------
    output_resistance, resistor : what drives the point of interest [Ω]
    input : of the instrument input with the lead on it: its admittance [S] at jω [rad/s]
    noise : root mean square, full scale 1
    hum : peak, full scale 1, at `hum_hz` [Hz] and its odd multiples
    seed : of noise and delays
    """

    output_resistance: float
    resistor: float
    input: Of
    noise: float = 1e-4
    hum: float = 1e-3
    hum_hz: float = 50.0
    seed: int = 1
    _draw: list[np.random.Generator] = field(default_factory=list, init=False, repr=False)

    def loop(self, jw: ComplexArray) -> Impedance:
        """Return what comes in [-] with the resistor bridged."""
        return self._driven(jw, self.output_resistance, self.input(jw))

    def loaded(self, thing: Of | None) -> Of:
        """Return what comes in through the resistor [-], with a thing of some admittance there."""

        def at(jw: ComplexArray) -> Impedance:
            Y = self.input(jw) + (0.0 if thing is None else thing(jw))
            return self._driven(jw, self.output_resistance + self.resistor, Y)

        return at

    @staticmethod
    def _driven(jw: ComplexArray, R: float, Y: Impedance) -> Impedance:
        return Source(np.ones_like(jw), R).into(Y)

    def record(self, played: FloatArray, rate: int, response: Of) -> FloatArray:
        """Return what is recorded while a sweep is played.

        Parameters
        ----------
        played : what is played, full scale 1, shape (frames,)
        rate : sample rate [Hz]
        response : of all that lies between [-]

        Returns
        -------
        shape (frames, 1), a little longer
        """
        import scipy.fft

        if not self._draw:
            self._draw.append(np.random.default_rng(self.seed))
        draw = self._draw[0]
        frames = len(played) + round(_LATEST_S * rate)
        size = scipy.fft.next_fast_len(frames, real=True)
        frequency = np.arange(size // 2 + 1) * (rate / size)
        late = draw.uniform(0.02, _LATEST_S)
        spectrum = scipy.fft.rfft(played, size)
        spectrum *= _between(response, frequency)
        spectrum *= np.exp(-2j * np.pi * late * frequency)
        heard = scipy.fft.irfft(spectrum, size)[:frames]
        heard += self.noise * draw.standard_normal(frames)
        time = np.arange(frames) / rate
        for n in (1, 3):
            turn = 2 * np.pi * (n * self.hum_hz * time + draw.uniform())
            heard += self.hum / n**2 * np.sin(turn)
        column: FloatArray = heard[:, np.newaxis]
        return column


def _between(response: Of, frequency: FloatArray) -> ComplexArray:
    """Return a response [-] at many frequencies [Hz], read between a few thousand of them."""
    few = np.geomspace(_LOWEST_HZ, frequency[-1], _POINTS)
    found = np.log(np.asarray(response(angular(few)), dtype=complex))
    pitch = np.log(np.maximum(frequency, _LOWEST_HZ))
    level = np.interp(pitch, np.log(few), found.real)
    phase = np.interp(pitch, np.log(few), np.unwrap(found.imag))
    read: ComplexArray = np.exp(level + 1j * phase)
    return read
