"""Lengths without a unit that are hardly meant in metres."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import Final

from sigsim.quantities import WITHOUT_PREFIX
from sigsim.units import Written

_MOST_NAMED = 5
# A bare number of a layout or of a cable that is sold is probably no number of metres from here on
# [m]; common practice, no source: no board is as wide, no patch cable or box as long.
_DOUBTED: Final = {
    "sold": 3.0,
    "size": 5.0,
    "place": 5.0,
    "entry": 5.0,
    "exit": 5.0,
    "width": 2.0,
    "depth": 2.0,
    "input_at": 2.0,
    "output_at": 2.0,
    "gap": 0.5,
    "slack": 0.5,
    "plug_length": 0.5,
}


def bare_lengths(lengths: Sequence[tuple[str, float]]) -> Iterator[str]:
    """Yield a warning where bare numbers stand among feet: they are read in metres.

    Parameters
    ----------
    lengths : of the cables [m] as the file gives them, each with its place
    """
    units = {_unit(length) for _, length in lengths if isinstance(length, Written)}
    # Centimetres of a patch cable say nothing about a lead, whole metres do.
    in_feet = units & set(WITHOUT_PREFIX) and not any(unit.startswith("m") for unit in units)
    # None is none in every unit.
    bare = [(p, size) for p, size in lengths if size and not isinstance(size, Written)]
    if not in_feet or not bare:
        return
    named = ", ".join(f"{place} ({size:g} m)" for place, size in bare[:_MOST_NAMED])
    if len(bare) > _MOST_NAMED:
        named += f" and {len(bare) - _MOST_NAMED} more"
    yield (
        f"{named}: a length without a unit is read in metres, but other lengths of this file are "
        f'in feet or inches; write "{bare[0][1]:g} ft" if feet are meant'
    )


def doubted(place: str, key: str, found: object) -> Iterator[str]:
    """Yield a caution where bare numbers are read in metres that nobody can mean.

    Parameters
    ----------
    place : what messages call the table
    key, found : a key of it, and the value that was read: one or several [m]
    """
    most = _DOUBTED.get(key)
    if most is None:
        return
    values = found if isinstance(found, tuple) else (found,)
    bare = [v for v in values if isinstance(v, float) and not isinstance(v, Written) and v > most]
    if not bare:
        return
    *others, last = [f"{value:g}" for value in bare[:_MOST_NAMED]]
    if len(bare) > _MOST_NAMED:
        others, last = [*others, last], f"{len(bare) - _MOST_NAMED} more"
    named = f"{', '.join(others)} and {last}" if others else last
    are = "are" if len(bare) > 1 else "is"
    yield f'{place}, {key}: {named} {are} read in metres; "{bare[0]:g} in" or "{bare[0]:g} cm"?'


def _unit(length: Written) -> str:
    """Return the unit of a length as it was written, with the prefix of a metre: ft, cm, m."""
    found = re.search(r"[^\d\s.+-]+$", length.text)
    return found[0] if found else ""
