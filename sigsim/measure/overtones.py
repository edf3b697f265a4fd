"""The harmonics of a recording: how linear it is, and whether something is overdriven."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.measure.faults import clipping
from sigsim.measure.noise import left
from sigsim.measure.spectra import Window, Windows

if TYPE_CHECKING:
    from sigsim.measure.deconvolve import Pulse
    from sigsim.measure.response import Stretches
    from sigsim.physics.arrays import ComplexArray, FloatArray

# Harmonics beyond this part are those of something overdriven [-]: over most of the band, and in
# some of it, where hum adds to them.
_OVERDRIVE: Final = 0.01
_SOMEWHERE: Final = 0.015
_ORDERS: Final = (2, 3, 5)
# A third of an octave, in points of the grid.
_SMOOTH: Final = 32
# Where nothing but noise is, behind the response [s], and by how much a harmonic is above it.
_QUIET: Final = (0.75, 0.95)
_CLEAR: Final = 5.0


@dataclass(frozen=True)
class Harmonic:
    """One harmonic of a recording.

    Attributes
    ----------
    order : 2 for the second
    fundamental : [Hz], shape (frequency,)
    part : of the louder of the fundamental and of what the response has there [-]
    level : of the fundamental alone, at its loudest [-]
    """

    order: int
    fundamental: FloatArray
    part: FloatArray
    level: float


def harmonics(
    pulse: Pulse, grid: FloatArray, H: ComplexArray, left_out: Stretches
) -> list[Harmonic]:
    """Return the harmonics of a recording, none if no exponential sweep was played."""
    folding = pulse.blocks.played.folding
    found: list[Harmonic] = []
    if folding is None:
        return found
    size = np.abs(H)
    for order in _ORDERS:
        inside = (grid * order < 0.98 * grid[-1]) & (grid > 60.0)
        inside &= left(grid, left_out) & left(order * grid, left_out)
        if inside.sum() < 2 * _SMOOTH:
            continue
        there = _harmonic(pulse, grid[inside], order, folding)
        # It may arise before the circuit or behind it.
        at_it = np.interp(order * grid[inside], grid, size)
        loud = size[inside] > 0.5 * size[inside].max()
        level = float(np.median((there / size[inside])[loud]))
        part = there / np.maximum(size[inside], at_it)
        found.append(Harmonic(order, grid[inside], part, level))
    return found


def check_overdrive(found: list[Harmonic], where: str, *, everywhere: bool) -> None:
    """See that no harmonic is so loud that something is overdriven.

    Parameters
    ----------
    found : the harmonics
    where : the file
    everywhere : whether only what is overdriven over most of the band counts, so that it cannot be
        the trace of something else

    Raises
    ------
    SigsimError : one is
    """
    for harmonic in found:
        most = float(harmonic.part.max())
        usual = float(np.median(harmonic.part))
        if usual > _OVERDRIVE if everywhere else most > _SOMEWHERE:
            at = float(harmonic.fundamental[int(np.argmax(harmonic.part))])
            raise clipping(where, f"{100 * most:.1f} % of harmonic {harmonic.order} at {at:.0f} Hz")


def _harmonic(pulse: Pulse, grid: FloatArray, order: int, folding: float) -> FloatArray:
    """Return the level of a harmonic by the frequency of its fundamental, noise taken off."""
    rate = pulse.blocks.rate / pulse.blocks.factor
    apart = 0.4 * folding * math.log((order + 1) / order)
    before, after = min(0.02, apart), min(0.05, apart)
    windows = Windows(pulse.blocks.rate, order * grid, Window(before, before / 2, after, after / 2))
    factor = pulse.blocks.factor
    early = round(folding * math.log(order) * rate)
    power = _smooth(windows.response(pulse.ring, factor, -early))
    # Between this harmonic and the next, and long behind the response, arrives nothing but noise.
    between = round(folding * (math.log(order) + math.log(order + 1)) / 2 * rate)
    quiet = (-between, *(round(late * rate) for late in _QUIET))
    noise = np.maximum.reduce([_smooth(windows.response(pulse.ring, factor, k)) for k in quiet])
    return np.sqrt(np.where(power > _CLEAR * noise, power - noise, 0.0))


def _smooth(response: ComplexArray) -> FloatArray:
    """Return the power of a response over a third of an octave."""
    power = response.real**2 + response.imag**2
    return np.asarray(np.convolve(power, np.ones(_SMOOTH) / _SMOOTH, mode="same"))
