"""The numbers of a response, each defined once: level, loss, treble loss, corner, resonance.

Every function takes something that gives H at any frequency (a `Response`), so that corner and
resonance are refined on the exact model and not read off a grid.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final, Literal, Protocol, TypeAlias

import numpy as np

from sigsim.physics.zoom import highest, last_crossing

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sigsim.physics.arrays import ComplexArray, FloatArray, Impedance

LEVEL_HZ: Final = 100.0
LOWEST_HZ: Final = 20.0
HIGHEST_HZ: Final = 40_000.0
# What is drawn, and over which noise is added up.
AUDIBLE_HZ: Final = (LOWEST_HZ, 20_000.0)
# The smallest difference in level that is just noticed: 0.5 to 1 dB (common practice, from memory).
NOTICED_DB: Final = 0.5
LOSS_HZ: Final = (1000.0, 2000.0, 4000.0, 8000.0)
TREBLE_BAND: Final = (2000.0, 8000.0)
# Half the power: 10·log10(2).
HALF_POWER_DB: Final = 10 * math.log10(2)
LEAST_RESONANCE_DB: Final = 0.1

# At this level [dB at 100 Hz] and below nothing comes out: a knob at 0, two pickups that cancel.
SILENT_DB: Final = -300.0

# Words for a treble loss: where the printed value is under the first limit [dB] the first word
# holds, and so on. Common practice, no source.
WORDS: Final = (
    (-1.0, "brighter"),
    (1.0, "negligible"),
    (3.0, "slight"),
    (6.0, "clear"),
    (math.inf, "heavy"),
)
# What the word "slight" begins with: less is not worth doing anything about.
WORTH_DB: Final = WORDS[1][0]
# A word is that of the value as it is printed, so that one value never has two.
PRINTED_DIGITS: Final = 1

# The one grid [Hz] on which corner and resonance are found, in every command: 100 Hz to 40 kHz,
# 23 points an octave. What it finds is refined on the exact model, or interpolated in long lists.
POINTS: Final = 200
STEP: Final = (HIGHEST_HZ / LEVEL_HZ) ** (1 / (POINTS - 1))
SEARCH: Final = np.append(LEVEL_HZ, HIGHEST_HZ * STEP ** -np.arange(POINTS - 2, -1, -1.0))


# From here on a change of level is said beside a treble loss: 1 dB as it is printed.
LEVEL_SAID_DB: Final = 1.0 - 0.5 * 10**-PRINTED_DIGITS


# What a loss is measured against: the same stages on without wiring but for the lead, the lead
# alone, or the same stages on without any wiring.
Reference: TypeAlias = Literal["ideal", "direct", "bare"]


@dataclass(frozen=True)
class Basis:
    """What a loss is measured against, and over which frequencies its treble part is the mean.

    Attributes
    ----------
    reference : what is subtracted from
    band : of the treble loss, its lowest and highest centre (nominal) [Hz]
    """

    reference: Reference = "ideal"
    band: tuple[float, float] = TREBLE_BAND

    @cached_property
    def centres(self) -> FloatArray:
        """The third-octave centres of the band [Hz]."""
        return third_octaves(*self.band)

    @cached_property
    def frequency(self) -> FloatArray:
        """Where the treble loss is taken: the centres, then 100 Hz [Hz]; see `over_level`."""
        frequency: FloatArray = np.append(self.centres, LEVEL_HZ)
        return frequency


USUAL_BASIS: Final = Basis()


class Measurable(Protocol):
    """Anything that gives H [-] at frequencies [Hz]."""

    def __call__(self, frequency: FloatArray, /) -> ComplexArray:
        """Return H at `frequency`, shape (frequency,)."""


class Referenced(Measurable, Protocol):
    """A response with the reference it is measured against."""

    @property
    def reference(self) -> Measurable:
        """The reference response."""


@dataclass(frozen=True)
class Resonance:
    """A peak of the response.

    Attributes
    ----------
    frequency : [Hz]
    height : over the level at 100 Hz [dB]
    """

    frequency: float
    height: float


def third_octaves(low: float, high: float) -> FloatArray:
    """Return the base-ten exact third-octave centres [Hz] from `low` to `high` (nominal) [Hz].

    `1000·10^(n/10)`, IEC 61260-1. A limit may be given by its nominal value, so that 2000 to 8000
    is n = 3 … 9 although the exact centres are 1995 and 7943 Hz.
    """
    first = math.ceil(10 * math.log10(low / 1000) - 0.1)
    last = math.floor(10 * math.log10(high / 1000) + 0.1)
    centres: FloatArray = 1000 * 10 ** (np.arange(first, last + 1) / 10)
    return centres


def decibels(H: Impedance) -> FloatArray:
    """Return `20·log10|H|` [dB], minus infinity at zero."""
    with np.errstate(all="ignore"):
        value: FloatArray = 20 * np.log10(np.abs(H))
    return value


def level(response: Measurable) -> float:
    """Return the level [dB] at 100 Hz; minus infinity if nothing comes out."""
    return float(levels(response))


def levels(response: Measurable) -> FloatArray:
    """Return the level [dB] of every row of a response, shape (…,), as `level` does."""
    gain = decibels(response(np.array([LEVEL_HZ])))[..., 0]
    return np.where(sounds(gain), gain, -np.inf)


def sounds(level_db: FloatArray | float) -> NDArray[np.bool_]:
    """Return where a level [dB at 100 Hz] is one that can be heard at all."""
    return np.asarray(level_db) > SILENT_DB


def loss(response: Referenced, frequency: FloatArray) -> FloatArray:
    """Return `dB|Href| - dB|H|` [dB] at frequencies [Hz]; not a number where either is silent."""
    at = np.append(frequency, LEVEL_HZ)
    return losses(decibels(response.reference(at)), decibels(response(at)))[..., :-1]


def losses(reference: FloatArray, gain: FloatArray) -> FloatArray:
    """Return losses [dB] from gains [dB] of which the last is that at 100 Hz.

    Parameters
    ----------
    reference, gain : shape (…, frequency)

    Returns
    -------
    shape (…, frequency); not a number wherever the board or its reference is silent
    """
    heard = sounds(reference[..., -1:]) & sounds(gain[..., -1:])
    with np.errstate(invalid="ignore"):
        taken: FloatArray = np.where(heard, reference - gain, np.nan)
    return taken


def over_level(values: FloatArray) -> FloatArray:
    """Return the mean of values [dB] at the centres of a band over the value at 100 Hz.

    Parameters
    ----------
    values : losses or gains at `Basis.frequency` [dB], shape (…, frequency)

    Returns
    -------
    shape (…,); not a number where there is none at 100 Hz
    """
    with np.errstate(invalid="ignore"):
        over: FloatArray = values[..., :-1].mean(axis=-1) - values[..., -1]
    return over


def treble_loss(response: Referenced, band: tuple[float, float] = TREBLE_BAND) -> float:
    """Return the mean loss [dB] at the third-octave centres of a band [Hz] less that at 100 Hz.

    What the treble loses over and above a change of level: a chain that makes everything louder
    alike has lost and gained no treble.
    """
    f = Basis(band=band).frequency
    return float(treble_loss_of(decibels(response.reference(f)), decibels(response(f))))


def treble_loss_of(reference: FloatArray, gain: FloatArray) -> FloatArray:
    """Return treble losses [dB] from gains at `Basis.frequency` [dB], shape (…, frequency).

    Not a number where the board or its reference is silent.
    """
    return over_level(losses(reference, gain))


def verdict(treble_loss_db: float) -> str:
    """Return the word for a treble loss [dB] as it is printed; empty for not a number."""
    if math.isnan(treble_loss_db):
        return ""
    printed = round(treble_loss_db, PRINTED_DIGITS)
    return next((word for limit, word in WORDS if printed < limit), WORDS[-1][1])


def worth_doing(treble_loss_db: float) -> bool:
    """Return whether a treble loss [dB] as it is printed is worth doing anything about."""
    return round(treble_loss_db, PRINTED_DIGITS) >= WORTH_DB


def word_limits() -> tuple[tuple[float, str], ...]:
    """Return the words with the limits [dB] under which a value that is not rounded gets them."""
    return tuple((limit - 0.5 * 10**-PRINTED_DIGITS, word) for limit, word in WORDS)


def corner(response: Measurable) -> float | None:
    """Return the lowest frequency [Hz] above which H stays half a power below its 100 Hz value.

    Parameters
    ----------
    response : gives H at any frequency

    Returns
    -------
    found on the grid and refined on the exact model to far less than 0.1 Hz; None if it never
    falls that far by 40 kHz
    """
    found = float(corners(response)[0])
    return None if math.isnan(found) else found


def corners(response: Measurable) -> FloatArray:
    """Return the corner [Hz] of every row of a response, shape (rows,); not a number for none.

    Parameters
    ----------
    response : gives H of all rows at frequencies of shape (frequency,), and that of each row at
        its own, shape (rows, frequency)
    """
    above = _over_level(response, SEARCH) + HALF_POWER_DB > 0
    last = SEARCH.size - 1 - np.argmax(above[:, ::-1], axis=1)
    falls = above.any(axis=1) & (last < SEARCH.size - 1)
    if not falls.any():
        return np.full(falls.shape, np.nan)
    i = np.where(falls, last, 0)
    found = last_crossing(
        lambda f: _over_level(response, f) + HALF_POWER_DB, SEARCH[i], SEARCH[i + 1]
    )
    return np.where(falls, found, np.nan)


def resonance(response: Measurable) -> Resonance | None:
    """Return the highest local maximum over the level at 100 Hz, refined on the exact model.

    Parameters
    ----------
    response : gives H at any frequency

    Returns
    -------
    None where no point of the grid stands above its two neighbours and the level at 100 Hz, or
    the maximum there is not at least 0.1 dB over this level
    """
    frequency, height = (float(values[0]) for values in resonances(response))
    return None if math.isnan(frequency) else Resonance(frequency, height)


def resonances(response: Measurable) -> tuple[FloatArray, FloatArray]:
    """Return frequency [Hz] and height [dB] of the resonance of every row of a response.

    Not a number for none; shape (rows,) both. The parameter is as for `corners`.
    """
    height = _over_level(response, SEARCH)
    inner = height[:, 1:-1]
    peaked = (inner > height[:, :-2]) & (inner >= height[:, 2:]) & (inner > 0)
    there = peaked.any(axis=1)
    if not there.any():
        return np.full(there.shape, np.nan), np.full(there.shape, np.nan)
    i = np.argmax(np.where(peaked, inner, -np.inf), axis=1) + 1
    f, top = highest(lambda f: _over_level(response, f), SEARCH[i - 1], SEARCH[i + 1])
    there &= top >= LEAST_RESONANCE_DB
    # Without any loss a peak is infinite, and as high as rounding leaves it.
    top = np.minimum(top, -SILENT_DB)
    return np.where(there, f, np.nan), np.where(there, top, np.nan)


def _over_level(response: Measurable, f: FloatArray) -> FloatArray:
    """Return the gain [dB] of every row over its level at 100 Hz, shape (rows, frequency).

    Minus infinity everywhere if nothing comes. Frequencies [Hz] are one row for all, or a row each.
    """
    one = f[0] if f.ndim == 2 and len(f) == 1 else f
    at = np.concatenate((np.full((*one.shape[:-1], 1), LEVEL_HZ), one), axis=-1)
    gain = np.atleast_2d(decibels(response(at)))
    level = gain[:, :1]
    with np.errstate(invalid="ignore"):
        over = gain[:, 1:] - level
    # Infinite times nothing is no number: nothing comes out.
    over = np.nan_to_num(over, nan=-np.inf, posinf=np.inf, neginf=-np.inf)
    return np.where(sounds(level) & np.isfinite(level), over, -np.inf)
