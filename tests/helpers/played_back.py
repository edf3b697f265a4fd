"""A small bench: the sweep written again from the paper, through a circuit, into a recording.

Imports nothing of the program.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

Response = Callable[[np.ndarray], np.ndarray]


def rc_lowpass(f: np.ndarray) -> np.ndarray:
    """100 kΩ into 600 pF with 1 MΩ across it."""
    return 1 / (1 + 1e5 * (1e-6 + 2j * np.pi * f * 600e-12))


def resonance(f: np.ndarray) -> np.ndarray:
    """R-L-C with a Q of 8 at 3 kHz."""
    x = 1j * f / 3000.0
    return 1 / (1 + x / 8 + x**2)


def loop(f: np.ndarray) -> np.ndarray:
    return np.ones(len(f), dtype=complex)


def wave(
    t: np.ndarray, low: float, high: float, seconds: float, harmonics: float, top: float
) -> np.ndarray:
    """Return one synchronised sweep of amplitude 1 with short fades (Novak 2015, chapter 2).

    With a second and third harmonic, as an interface makes them that lets nothing pass above `top`.
    """
    k = round(low * seconds / math.log(high / low))
    L = k / low
    T = L * math.log(high / low)
    inside = (t >= 0) & (t <= T)
    phase = 2 * np.pi * low * L * np.exp(np.where(inside, t, 0) / L)
    fade = np.clip(np.minimum(t / (0.06 * L), (T - t) / (0.01 * L)), 0, 1)
    fade = fade - np.sin(2 * np.pi * fade) / (2 * np.pi)
    sound = np.sin(phase)
    for order in (2, 3):
        here = order * low * np.exp(np.where(inside, t, 0) / L)
        sound += harmonics * np.sin(order * phase + order) * np.clip((top - here) / 2000, 0, 1)
    return np.where(inside, sound * fade, 0.0)


@dataclass
class Bench:
    """An interface and what it plays and hears.

    Attributes
    ----------
    rate : [Hz]; low, high, seconds, repeats, level_db : of the sweep
    own : response of the interface itself
    noise_db : root mean square [dBFS]; hum : (frequency, dBFS peak)
    ppm : how much faster the recorder's clock runs
    distortion : second and third harmonic before the circuit [-]
    lead : silence before [s]; latency : [s]
    """

    rate: int = 48000
    low: float = 20.0
    high: float = 20000.0
    seconds: float = 10.0
    repeats: int = 3
    level_db: float = -20.0
    own: Response = field(default=lambda f: 1 / (1 - 5j / np.maximum(f, 1e-9)))
    noise_db: float | None = -80.0
    hum: tuple[tuple[float, float], ...] = ((50, -60), (100, -60), (150, -60))
    ppm: float = 0.0
    distortion: float = 0.001
    lead: float = 0.0
    latency: float = 0.0123456
    end: float = 0.3

    @property
    def period(self) -> float:
        k = round(self.low * self.seconds / math.log(self.high / self.low))
        T = k / self.low * math.log(self.high / self.low)
        return round((T + 2) * self.rate) / self.rate

    def play(self, circuit: Response, seed: int = 0) -> np.ndarray:
        """Return a recording of the sweep through a circuit, shape (samples,)."""
        rng = np.random.default_rng(seed)
        clock = self.rate * (1 + self.ppm * 1e-6)
        length = self.lead + 0.5 + self.repeats * self.period + self.end
        n = round(length * clock)
        t = np.arange(n) / clock
        A = 10 ** (self.level_db / 20)
        x = np.zeros(n)
        for r in range(self.repeats):
            start = self.lead + 0.5 + r * self.period + self.latency
            first, last = round((start - 0.1) * clock), round((start + self.seconds + 1) * clock)
            part = slice(max(0, first), min(n, last))
            x[part] += A * wave(
                t[part] - start,
                self.low,
                self.high,
                self.seconds,
                self.distortion,
                0.48 * self.rate,
            )
        size = 1 << (n + clock.__int__()).bit_length()
        f = np.fft.rfftfreq(size, 1 / clock)
        f[0] = 1e-6
        y = np.fft.irfft(np.fft.rfft(x, size) * circuit(f) * self.own(f), size)[:n]
        for tone, level in self.hum:
            y += 10 ** (level / 20) * np.sin(2 * np.pi * tone * t + rng.uniform(0, 6.28))
        if self.noise_db is not None:
            y += rng.normal(0, 10 ** (self.noise_db / 20), n)
        return y
