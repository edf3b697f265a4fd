"""The recipes of `measure` in words: which recordings each needs, and how each is wired."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Final

from sigsim.errors import SigsimError

_LOOP: Final = "interface output, resistor with a wire across it, lead, instrument input"
_BARE: Final = "the wire off, the third socket empty"
_LEADED: Final = "the wire off, {} in the third socket, its far end free"
_MOST: Final = 2


@dataclass(frozen=True)
class Way:
    """One way to measure a thing.

    Attributes
    ----------
    wiring : of each recording, in the order in which they are made
    optional : the recordings that only make it surer
    """

    wiring: Mapping[str, str]
    optional: Collection[str] = ()

    def missing(self, given: Mapping[str, tuple[str, ...]]) -> list[str]:
        """Return the recordings that are missing among those that were given, by role.

        A table may be a ratio already, so that the recording below it is not needed.
        """
        needed = [role for role in self.wiring if role not in self.optional]
        below, *above = needed
        has_tables = all(path.lower().endswith(".csv") for role in above for path in given[role])
        if all(given[role] for role in above) and has_tables:
            return []
        return [role for role in (below, *above) if not given[role]]


def _resistor(before: str, thing: str) -> Way:
    return Way({"loop": _LOOP, "before": before, "with": thing})


WAYS: Final[Mapping[str, tuple[Way, ...]]] = {
    "cable": (_resistor(_BARE, "the cable in the third socket, its far end free"),),
    "pickup": (
        Way(
            {
                "loop": _LOOP,
                "before": _LEADED.format("the instrument's lead"),
                "with": "the instrument on that lead, every knob at 10",
                "half": "the same with the volume at about half, which settles what its pot is",
            },
            ("half",),
        ),
        Way(
            {
                "open": "a coil near the pickup plays the sweep through a resistor; the instrument "
                "on its lead into the instrument input, every knob at 10",
                "loaded": "the same with a load (--load) across the lead; nothing else moves",
            }
        ),
    ),
    "input": (
        _resistor(_LEADED.format("the pedal's lead"), "the pedal on that lead, powered and on"),
    ),
    "bypass": (
        _resistor(
            _LEADED.format("the box's lead"), "the box on that lead, off, its output left free"
        ),
    ),
    "output": (
        Way(
            {
                "before": "the output that is tested into the input of the interface",
                "with": "the same with a resistor (--load) across it, about as large as the output",
            }
        ),
    ),
}


def option(role: str) -> str:
    """Return the option of a recording."""
    return f"--{role}"


def check_recordings(recipe: str, given: Mapping[str, tuple[str, ...]]) -> Way:
    """Return the way in which a thing was measured.

    Parameters
    ----------
    recipe : its name
    given : the files of every role, none for what was not recorded

    Raises
    ------
    SigsimError : a recording has no place in the recipe, or some are missing
    """
    ways, where = WAYS[recipe], f"measure {recipe}"
    roles = [role for role, files in given.items() if files]
    taken = list(dict.fromkeys(role for way in ways for role in way.wiring))
    for role in roles:
        if role not in taken:
            raise SigsimError(
                f"this recording has no place in {where}",
                where=option(role),
                accepted=", ".join(map(option, taken)),
            )
    fitting = [way for way in ways if set(roles) <= set(way.wiring)]
    if not fitting:
        both = " or ".join(_roles(way) for way in ways)
        found = ", ".join(map(option, roles))
        what = "these recordings belong to different ways of measuring"
        raise SigsimError(what, where=where, found=found, accepted=both)
    least = min((way.missing(given) for way in fitting), key=len)
    if least:
        raise _incomplete(where, fitting, given)
    return next(way for way in fitting if not way.missing(given))


def _incomplete(
    where: str, ways: list[Way], given: Mapping[str, tuple[str, ...]]
) -> SigsimError:
    """Return the error that names all that is missing, and how each is recorded."""
    lists = []
    for way in ways:
        told = (f"{option(role)} ({way.wiring[role]})" for role in way.missing(given))
        lists.append(", ".join(told))
    number = "a recording is" if len(ways[0].missing(given)) == 1 else "recordings are"
    what = f"{number} missing: {'; or else: '.join(lists)}"
    return SigsimError(what, where=where)


def _roles(way: Way) -> str:
    return ", ".join(map(option, way.wiring))
