"""One response over another: what the interface itself does falls out."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.errors import SigsimError, shown_path
from sigsim.measure.noise import left, merged
from sigsim.measure.response import Heard, Ratio

if TYPE_CHECKING:
    from sigsim.physics.arrays import ComplexArray, FloatArray

# Points without which nothing can be told.
_FEWEST: Final = 10


def ratio(above: Heard, below: Heard) -> Ratio:
    """Return one response over another, without what is left out of either.

    Parameters
    ----------
    above, below : two recordings, two tables, or one of each; a table and something else on
        another grid are compared at the points of the table that both cover

    Raises
    ------
    SigsimError : they are recordings of different rates or sweeps, or share too little
    """
    if above.rate is not None and below.rate is not None:
        _check_alike(above, below)
    grid = _grid(above, below)
    kept = grid[left(grid, merged(above.left_out, below.left_out))]
    if len(kept) < _FEWEST:
        raise SigsimError(
            f"this has too few frequencies in common with {shown_path(below.name)}",
            where=shown_path(above.name),
            found=f"{len(kept)}",
            accepted=f"at least {_FEWEST}",
        )
    over, under = _at(above, kept), _at(below, kept)
    for one, found in ((above, over), (below, under)):
        if not np.abs(found).all():
            raise SigsimError("there is nothing in this response", where=shown_path(one.name))
    sigma = _sigma([one for one in (above, below) if one.sigma is not None], kept)
    loud = np.abs(under)
    drift = math.hypot(above.drift, below.drift)
    return Ratio(above.name, kept, over / under, sigma, True, below.third, loud / loud.max(), drift)


def alone(table: Heard) -> Ratio:
    """Return a table that is a ratio already as a ratio.

    Raises
    ------
    SigsimError : it is a recording
    """
    if table.rate is not None:
        raise SigsimError(
            "a recording alone tells nothing, because the interface is in it: give the recording "
            "that it is compared with",
            where=shown_path(table.name),
        )
    return Ratio(table.name, table.frequency, table.H, table.sigma)


def _check_alike(above: Heard, below: Heard) -> None:
    if above.rate != below.rate:
        raise SigsimError(
            f"this and {shown_path(below.name)} are recordings of different rates: record both at "
            "the rate of the sweep",
            where=shown_path(above.name),
            found=f"{above.rate} Hz and {below.rate} Hz",
        )
    if not np.array_equal(above.frequency, below.frequency):
        what = f"this and {shown_path(below.name)} are recordings of different sweeps"
        raise SigsimError(what, where=shown_path(above.name))


def _grid(above: Heard, below: Heard) -> FloatArray:
    """Return the frequencies to compare at: of a table rather than of a recording, that both cover.

    Of two tables it is the coarser one.
    """
    of_tables = [one.frequency for one in (above, below) if one.rate is None]
    own = min(of_tables, key=len) if of_tables else above.frequency
    low = max(above.frequency[0], below.frequency[0])
    high = min(above.frequency[-1], below.frequency[-1])
    return np.asarray(own[(own >= low) & (own <= high)])


def _at(heard: Heard, frequency: FloatArray) -> ComplexArray:
    """Return a response at other frequencies: gain in dB and phase even over log f between."""
    if np.array_equal(heard.frequency, frequency):
        return heard.H
    size = np.abs(heard.H)
    with np.errstate(divide="ignore"):
        gain = np.log(size)
    own, wanted = np.log(heard.frequency), np.log(frequency)
    phase = np.interp(wanted, own, np.unwrap(np.angle(heard.H)))
    return np.asarray(np.exp(np.interp(wanted, own, gain) + 1j * phase))


def _sigma(known: list[Heard], frequency: FloatArray) -> FloatArray | None:
    """Return the standard error of a ratio, None where nothing is known of either."""
    if not known:
        return None
    total = np.zeros(len(frequency))
    for one in known:
        if one.sigma is not None:
            total += np.interp(frequency, one.frequency, one.sigma) ** 2
    return np.sqrt(total)
