"""The knobs of an instrument as lines of a first board file, and a treble bleed at its volume."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Final

from sigsim.board.parts import part

# The words that say what a treble bleed is, each with the lines that write it. Values: common
# practice, no source.
BLEEDS: Final = {
    "parallel": (
        'treble_bleed_capacitor = "1 nF"',
        'treble_bleed_resistor = "150 kΩ"',
        'treble_bleed = "parallel"',
    ),
    "series": (
        'treble_bleed_capacitor = "1 nF"',
        'treble_bleed_resistor = "150 kΩ"',
        'treble_bleed = "series"',
    ),
    "capacitor": ('treble_bleed_capacitor = "470 pF"', "treble_bleed_resistor = 0"),
}
_BLEED_NOTE: Final = (
    "# The treble bleed of the volume knob: usual values, change them if yours differ."
)
_PICKUPS_NOTE: Final = """
# Each pickup has knobs of its own: a table with its name turns them. polarity = "reversed" is for
# one that sounds thin together with the others.
"""


def has_volume(name: str) -> bool:
    """Whether an instrument of the library has a volume knob, its own or its pickups'."""
    given = part(name).values
    return any("volume_track" in table for table in (given, *_pickups(given)))


def has_treble_bleed(name: str) -> bool:
    """Whether an instrument of the library has a treble bleed."""
    given = part(name).values
    return any("treble_bleed_capacitor" in table for table in (given, *_pickups(given)))


def instrument_lines(name: str, bleed: str = "") -> str:
    """Return the lines below `part` in `[instrument]`, each with its line feed.

    Parameters
    ----------
    name : of the part
    bleed : a word of `BLEEDS`, empty for what the part has
    """
    given = part(name).values
    return _text([*_knobs(given), *_bleed(given, given, bleed)])


def pickup_tables(name: str, bleed: str = "") -> str:
    """Return the tables of pickups that have knobs of their own, empty without any.

    Parameters
    ----------
    name : of the part
    bleed : a word of `BLEEDS`, empty for what the part has
    """
    given = part(name).values
    tables = []
    for pickup in _pickups(given):
        lines = [*_knobs(pickup), *_bleed(given, pickup, bleed)]
        if lines:
            tables.append(_text(["[[instrument.pickups]]", f'name = "{pickup["name"]}"', *lines]))
    return _PICKUPS_NOTE + "".join(tables) if tables else ""


def _pickups(given: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    listed: list[Mapping[str, Any]] = given.get("pickups", [])
    return listed


def _knobs(given: Mapping[str, Any]) -> Iterator[str]:
    if "volume_track" in given:
        yield "volume = 10"
    if "tone_capacitor" in given:
        yield "tone = 10"
    if "bass_cut_track" in given:
        yield "bass_cut = 10"


def _bleed(whole: Mapping[str, Any], given: Mapping[str, Any], bleed: str) -> Iterator[str]:
    """Yield a treble bleed where a volume pot is: the instrument's own, or else each pickup's."""
    own = "volume_track" in whole
    if bleed and "volume_track" in given and (given is whole) is own:
        yield _BLEED_NOTE
        yield from BLEEDS[bleed]


def _text(lines: list[str]) -> str:
    return "".join(f"{line}\n" for line in lines)
