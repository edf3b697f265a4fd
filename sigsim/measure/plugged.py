"""Recordings of the resistor method in which a plug was not where it should be."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.errors import SigsimError, shown_path
from sigsim.measure.point import LEAST_INPUT, level_of, loudness

if TYPE_CHECKING:
    from sigsim.measure.point import Point
    from sigsim.measure.response import Ratio

# What no lead with an input is below [F]: half a metre of cable has twice that.
_LEAST_LEAD: Final = 15e-12
# The middle, by number of points, of what `loudness` takes from 3 kHz to 20 kHz [Hz].
_MIDDLE: Final = 11_500.0
# Recordings of the same wiring are this alike [ln]: an interface at rest keeps its gain to a few
# thousandths of a dB, and half a picofarad at the point is more than this.
_SAME: Final = 0.01 * math.log(10) / 20


def refuse_bridged(before: Ratio, here: Point) -> None:
    """Refuse a recording in which nothing of the resistor shows.

    Through it a lead loses treble. What is as even as the loop was recorded with the bridge closed,
    at whatever gain, or the loop was recorded with the bridge open.

    Parameters
    ----------
    before : over the loop, the third socket empty
    here : the point

    Raises
    ------
    SigsimError : the bridge was closed, or open in the loop
    """
    beside = 1 / (1 / float(here.resistor.value) + 1 / LEAST_INPUT)
    corner = 2 * math.pi * _MIDDLE * beside * _LEAST_LEAD
    least = math.log1p(corner**2) / 2
    treble = loudness(before) - loudness(before, top=True)
    if abs(treble) >= least and not _alike(loudness(before), loudness(before, top=True)):
        return
    raise SigsimError(
        "the bridge across the resistor was still closed in this recording, or open in the loop as "
        "well: nothing of the resistor shows between the two. Take the bridge off after the loop, "
        "and record again from there",
        where=f"{shown_path(before.name)} (--before)",
    )


def nothing_shows(before: Ratio, thing: Ratio) -> bool:
    """Whether a recording with a thing on the point is the one without it once more.

    Parameters
    ----------
    before, thing : over the loop
    """
    beside = np.interp(thing.frequency, before.frequency, level_of(before))
    return _alike(loudness(thing, beside), loudness(thing, beside, top=True))


def refuse_nothing(before: Ratio, thing: Ratio, what: str) -> None:
    """Refuse a recording of a thing that does not show.

    Parameters
    ----------
    before, thing : over the loop
    what : the thing, with its article

    Raises
    ------
    SigsimError : it is not there
    """
    if nothing_shows(before, thing):
        raise SigsimError(
            f"this is the same as {shown_path(before.name)} (--before): {what} was not plugged in, "
            "or its plug has no contact",
            where=f"{shown_path(thing.name)} (--with)",
        )


def refuse_unturned(full: Ratio, half: Ratio) -> None:
    """Refuse a recording at half volume that is the one at full volume once more.

    Parameters
    ----------
    full, half : over the loop

    Raises
    ------
    SigsimError : the volume was not turned down
    """
    if nothing_shows(full, half):
        raise SigsimError(
            f"this is the same as {shown_path(full.name)} (--with): the volume was not turned down",
            where=f"{shown_path(half.name)} (--half)",
        )


def refuse_unloaded(ratio: Ratio) -> None:
    """Refuse a recording with a load that does not show.

    Parameters
    ----------
    ratio : loaded over open

    Raises
    ------
    SigsimError : it is not there
    """
    if _alike(loudness(ratio), loudness(ratio, top=True)):
        raise SigsimError(
            "this is the same as the recording without a load (--open): the load was not plugged "
            "in, or has no contact",
            where=f"{shown_path(ratio.name)} (--loaded)",
        )


def _alike(low: float, top: float) -> bool:
    """Whether two recordings differ by next to nothing [ln], below and above."""
    return max(abs(low), abs(top)) < _SAME
