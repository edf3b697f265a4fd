"""The harmonics of a recording: how linear it is, and whether something is overdriven."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.measure.faults import clipping
from sigsim.measure.spectra import Window, Windows

if TYPE_CHECKING:
    from sigsim.measure.deconvolve import Pulse
    from sigsim.physics.arrays import ComplexArray, FloatArray

# Harmonics beyond this part are those of something overdriven [-].
_OVERDRIVE: Final = 0.01
_ORDERS: Final = (2, 3, 5)
# A third of an octave, in points of the grid.
_SMOOTH: Final = 32


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


def harmonics(pulse: Pulse, grid: FloatArray, H: ComplexArray) -> list[Harmonic]:
    """Return the harmonics of a recording, none if no exponential sweep was played."""
    folding = pulse.blocks.played.folding
    found: list[Harmonic] = []
    if folding is None:
        return found
    size = np.abs(H)
    for order in _ORDERS:
        inside = (grid * order < 0.98 * grid[-1]) & (grid > 60.0)
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
        if (float(np.median(harmonic.part)) if everywhere else most) > _OVERDRIVE:
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
    # Between this harmonic and the next nothing arrives but noise.
    between = round(folding * (math.log(order) + math.log(order + 1)) / 2 * rate)
    power = np.abs(windows.response(pulse.ring, factor, -early)) ** 2
    noise = np.abs(windows.response(pulse.ring, factor, -between)) ** 2
    kernel = np.ones(_SMOOTH) / _SMOOTH
    surplus = np.convolve(power - 2 * noise, kernel, mode="same")
    return np.sqrt(np.maximum(surplus, 0.0))
