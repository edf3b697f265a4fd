"""A quiet piece of the sweep first: how loud would the whole of it come back?"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.measure.spectra import rising

if TYPE_CHECKING:
    from sigsim.measure.played import Played
    from sigsim.physics.arrays import FloatArray

# By how much it is played lower [dB].
LOWER_DB: Final = 20.0
# Which part of one sweep: of 20 Hz to 20 kHz that from 450 Hz to 3.6 kHz, where a pickup is loud.
_FROM: Final = 0.45
_TO: Final = 0.75
_LONGEST: Final = 4.0
# Silence before it, in which the noise is heard, and how long it takes to rise [s].
SILENCE: Final = 0.6
_FADE: Final = 0.05
# Levels are the peaks of moments of this length [s].
_MOMENT: Final = 0.05
# A click is louder than so many of the moments.
_ORDINARY: Final = 0.95
# A piece that is not twice as loud as the silence has not come back.
_ABOVE_NOISE: Final = 2.0
# The piece need not hold the loudest place of the sweep: so much is left below full scale [dB].
_ROOM: Final = 2.0
# Below this a converter's noise and hum take over [dBFS].
_QUIET: Final = -40.0


@dataclass(frozen=True)
class Rehearsed:
    """How loud a sweep will come back.

    Attributes
    ----------
    peak_db : at the full level [dBFS], above 0 where it cannot; None where nothing comes back
    """

    peak_db: float | None

    @property
    def clips(self) -> bool:
        """Whether it would clip, or come close."""
        return self.peak_db is not None and self.peak_db > -_ROOM

    @property
    def is_quiet(self) -> bool:
        """Whether it would be too quiet to tell much."""
        return self.peak_db is not None and self.peak_db < _QUIET


def quiet_piece(played: Played) -> FloatArray:
    """Return silence and a faded piece of one sweep, lower than it is, shape (frames,)."""
    wave, rate = played.wave, played.rate
    first = round(_FROM * len(wave))
    last = min(round(_TO * len(wave)), first + round(_LONGEST * rate))
    place = np.arange(last - first) / rate
    fade = rising(place / _FADE) * rising((place[-1] - place) / _FADE)
    piece = wave[first:last] * fade * 10 ** (-LOWER_DB / 20)
    return np.concatenate([np.zeros(round(SILENCE * rate)), piece])


def rehearsed(samples: FloatArray, rate: int, before: float) -> Rehearsed:
    """Return what a recording of the quiet piece says.

    Parameters
    ----------
    samples : full scale 1, shape (frames,)
    rate : [Hz]
    before : silence at its start before that of the piece [s]
    """
    each = max(1, round(_MOMENT * rate))
    count = len(samples) // each
    peaks = np.abs(samples[: count * each]).reshape(count, each).max(axis=1)
    # What starts an interface may crackle.
    silent = peaks[round(before / _MOMENT) : round((before + SILENCE) / _MOMENT)]
    noise, loud = float(np.median(silent)), float(np.quantile(peaks[len(silent) :], _ORDINARY))
    if loud <= _ABOVE_NOISE * noise or not loud:
        return Rehearsed(None)
    return Rehearsed(20 * math.log10(loud) + LOWER_DB)
