"""Lengths without a unit in a file that otherwise measures in feet."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from sigsim.quantities import WITHOUT_PREFIX
from sigsim.units import Written

_MOST_NAMED = 5


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


def _unit(length: Written) -> str:
    """Return the unit of a length as it was written, with the prefix of a metre: ft, cm, m."""
    found = re.search(r"[^\d\s.+-]+$", length.text)
    return found[0] if found else ""
