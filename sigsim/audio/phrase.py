"""An invented phrase for a plucked bass string, to have something to listen to.

Each note is a sum of partials that decay the faster the higher they are. A plucked string has
partials of `sin(nπp)/n` for a pluck at the share p of its length, and a pickup at the share q sees
`sin(nπq)` of each (N. H. Fletcher, T. D. Rossing, *The Physics of Musical Instruments*, chapter 2,
from memory; a pickup feels velocity, which cancels one 1/n). Stiffness spreads the partials by
`sqrt(1 + B·n²)`. Notes, rhythm and all figures are invented.
"""

from __future__ import annotations

import math
from itertools import count, pairwise
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from sigsim.physics.arrays import FloatArray

RATE: Final = 48_000
# Begin [beats], semitones over E1, loudness [-] of each note: invented.
_BEGINS: Final = (0.0, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 5.5, 6.0, 6.5, 7.0, 7.5, 8.0)
_SEMITONES: Final = (0, 0, 12, 7, 10, 12, 5, 5, 17, 12, 15, 16, 19, 0)
_LOUDNESS: Final = (1.0, 0.7, 0.9, 0.8, 0.8, 1.0, 1.0, 0.7, 0.9, 0.8, 0.8, 0.9, 1.0, 1.0)
_BEAT_S: Final = 0.5
_BEATS: Final = 12.0
# Equal temperament from A1 = 55 Hz.
_E1_HZ: Final = 55 * 2 ** (-5 / 12)
# Highest partial [Hz]: well above the 8 kHz that the losses are looked at.
_HIGHEST_HZ: Final = 11_000.0
_PLUCK, _PICKUP = 0.09, 0.17
_STIFFNESS: Final = 4e-5
# Decay [1/s]: at the lowest, and more per kHz.
_DECAY, _DECAY_PER_KHZ = 0.8, 1.6
_RELEASE_S, _ATTACK_S = 0.03, 0.001
_PEAK: Final = 0.5


def phrase(seed: int = 1, rate: int = RATE) -> FloatArray:
    """Return six seconds of plucked bass.

    Parameters
    ----------
    seed : of the small differences between plucks
    rate : sample rate [Hz]

    Returns
    -------
    shape (frames, 1), peak half of full scale
    """
    draw = np.random.default_rng(seed)
    sound = np.zeros(int(_BEATS * _BEAT_S * rate))
    edges = [round(beat * _BEAT_S * rate) for beat in (*_BEGINS, _BEATS)]
    notes = zip(pairwise(edges), _SEMITONES, _LOUDNESS, strict=True)
    for (first, last), semitones, loudness in notes:
        note = _note(_E1_HZ * 2 ** (semitones / 12), last - first, rate, draw)
        sound[first:last] += loudness * note
    scaled: FloatArray = (sound * (_PEAK / np.abs(sound).max()))[:, np.newaxis]
    return scaled


def _note(pitch: float, frames: int, rate: int, draw: np.random.Generator) -> FloatArray:
    time = np.arange(frames) / rate
    pluck = _PLUCK * draw.uniform(0.9, 1.1)
    note = np.zeros(frames)
    for n in count(1):
        partial = n * pitch * math.sqrt(1 + _STIFFNESS * n * n)
        if partial > min(_HIGHEST_HZ, 0.45 * rate):
            break
        size = np.sin(n * np.pi * pluck) * np.sin(n * np.pi * _PICKUP) / n**0.75
        decay = _DECAY + _DECAY_PER_KHZ * partial / 1000
        phase = draw.uniform(0, 2 * np.pi)
        note += size * np.exp(-decay * time) * np.sin(2 * np.pi * partial * time + phase)
    left = (frames - 1) / rate - time
    shape = np.minimum(time / _ATTACK_S, 1) * np.minimum(left / _RELEASE_S, 1)
    shaped: FloatArray = note * shape
    return shaped
