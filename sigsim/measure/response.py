"""What a recording says: a response on a grid of frequencies, and the ratio of two of them.

All that is measured is a ratio of two recordings of one sweep through one interface, so that the
interface's own response cancels: `T(f) = V1(f)/V0(f)`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sigsim.physics.arrays import ComplexArray, FloatArray

    # Stretches of frequency [Hz] that are left out, lowest and highest.
    Stretches = tuple[tuple[float, float], ...]


@dataclass(frozen=True, eq=False)
class Heard:
    """The response that one recording, or one table, holds.

    Attributes
    ----------
    name : of the file, as it was given
    frequency : [Hz], rising, shape (frequency,)
    H : the response [-], its start at an arbitrary time, shape (frequency,)
    sigma : standard error of the real and of the imaginary part of ln H [-], shape (frequency,);
        None where nothing is known of it, as of a table
    repeats : whole sweeps it is the mean of
    clock_ppm : how much faster the recording's clock ran than the player's; None for a table
    third : third harmonic, as a part of the fundamental at the same level [-]; 0 for a table
    left_out : stretches of frequency in which something else was louder
    notes : what should be known, each a sentence
    rate : samples per second of the recording [Hz]; None for a table
    growth : time in which the sweep rose by a factor of e [s]; None for another sweep, or a table
    drift : how surely its clock is known: standard deviation of the delay by each factor of e of
        the frequency [s]; 0 where it was measured
    """

    name: str
    frequency: FloatArray
    H: ComplexArray
    sigma: FloatArray | None = None
    repeats: int = 1
    clock_ppm: float | None = None
    third: float = 0.0
    left_out: Stretches = ()
    notes: tuple[str, ...] = ()
    rate: int | None = None
    growth: float | None = None
    drift: float = 0.0


@dataclass(frozen=True, eq=False)
class Ratio:
    """One response over another, without what is left out of either.

    Attributes
    ----------
    name : of the recording above, as it was given
    frequency : [Hz], rising, shape (frequency,)
    T : the ratio [-], shape (frequency,)
    sigma : standard error of the real and of the imaginary part of ln T [-], shape (frequency,);
        None where nothing is known of it
    delayed : whether a delay of its own lies between the two, as between two recordings
    third : third harmonic of the recording below, a part of its fundamental [-]
    level : of the recording below over where it is loudest [-], shape (frequency,); None for even
    drift : standard deviation of the delay by each factor of e of the frequency, where a clock is
        not known [s]
    """

    name: str
    frequency: FloatArray
    T: ComplexArray
    sigma: FloatArray | None = None
    delayed: bool = True
    third: float = 0.0
    level: FloatArray | None = None
    drift: float = 0.0
