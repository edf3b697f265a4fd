"""Lengths as somebody answers with them: what a number without a unit means, and what is odd."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from sigsim.errors import SigsimError, quote

if TYPE_CHECKING:
    from sigsim.cli.interview import Read

# Feet and inches as they are written, and a foot [m] (international yard, 1959).
_FEET: Final = ("ft", "feet", "foot", "'", "in", "inches", "inch", '"')
_FOOT: Final = 0.3048


def length(most: float, usual: tuple[float, float]) -> Read:
    """Return what reads a length and gives it back as written, with a unit.

    Parameters
    ----------
    most : longer is refused [m]
    usual : the ends of what is common [m]; a number above without a unit is asked for one
    """

    def read(text: str) -> str:
        from sigsim.units import parse

        metres = parse(text, "length").value
        bare = text.replace(".", "").isdecimal()
        accepted = f"more than 0 to {most:g} m"
        if bare and metres > usual[1]:
            accepted += f'; "{text} m" if metres are meant' if metres <= most else ""
            what = "so large a length needs its unit"
            near = _in_usual_unit(text, usual)
            raise SigsimError(what, found=quote(text), accepted=accepted, nearest=near)
        if not 0 < metres <= most:
            what = "this length cannot be meant" if metres else "a cable has a length"
            raise SigsimError(what, found=quote(text), accepted=accepted)
        return f"{text} m" if bare else text

    return read


def in_feet_after(earlier: Sequence[str], read: Read, usual: tuple[float, float]) -> Read:
    """Return what reads a length, and asks whether a number is feet as an earlier length was.

    Parameters
    ----------
    earlier : lengths as they were written
    read : from `length`
    usual : the ends of what is common [m]
    """
    feet = [text.strip() for text in earlier if text.strip().endswith(_FEET)]

    def read_in_feet(text: str) -> str:
        if feet and text.strip().replace(".", "", 1).isdecimal() and float(text) > 0:
            near = _in_usual_unit(text, usual, ("ft", "in")) or f"{text} ft"
            raise SigsimError(
                f"this needs its unit, because another length is {feet[0]}",
                found=quote(text),
                accepted=f'a length such as "{near}" or "{text} m"',
                nearest=near,
            )
        return str(read(text))

    return read_in_feet


def unusual(written: str, usual: tuple[float, float]) -> str:
    """Return a note on a length that is far from what is common [m]; empty where it is not."""
    from sigsim.units import parse

    metres = parse(written, "length").value
    if usual[0] <= metres <= usual[1]:
        return ""
    how = "short" if metres < usual[0] else "long"
    in_feet = written.strip().endswith(_FEET)
    size, unit = (_FOOT, "ft") if in_feet else (1.0, "m")
    low, high = (f"{end / size:.2g}" for end in usual)
    return f"{written} is {how} for such a cable, {low} to {high} {unit} is usual: is it meant?"


def _in_usual_unit(
    number: str, usual: tuple[float, float], units: Sequence[str] = ("ft", "cm", "in")
) -> str | None:
    """Return a number with the unit in which it is a common length [m], None if there is none."""
    from sigsim.units import parse

    written = (f"{number} {unit}" for unit in units)
    return next((w for w in written if usual[0] <= parse(w, "length").value <= usual[1]), None)
