"""The recordings that a recipe of `measure` needs: how each is wired, and which are missing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from sigsim.errors import SigsimError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from sigsim.measure.recipes import Way

    # The files of every role, none for what was not recorded.
    Given = Mapping[str, tuple[str, ...]]

_LOOP: Final = "interface output, resistor with a wire across it, lead, instrument input"
_LEAD: Final = "the wire off; in the third socket the lead of {}, its far end free"
# How each recording is made, by recipe and role.
WIRING: Final[Mapping[str, Mapping[str, str]]] = {
    "cable": {
        "loop": _LOOP,
        "before": "the wire off, the third socket empty",
        "with": "the cable in the third socket, its far end free",
    },
    "pickup": {
        "loop": _LOOP,
        "before": _LEAD.format("the instrument"),
        "with": "the instrument on that lead, every knob at 10",
        "half": "if you can: the same with the volume at about half, which tells its pot",
        "open": "a coil near the pickup plays the sweep through a resistor; the instrument on its "
        "lead into the instrument input, every knob at 10",
        "loaded": "the same with a --load across the lead; nothing else moves",
    },
    "input": {
        "loop": _LOOP,
        "before": _LEAD.format("the pedal"),
        "with": "the pedal on that lead, powered and on",
    },
    "bypass": {
        "loop": _LOOP,
        "before": _LEAD.format("the box"),
        "with": "the box on that lead, off, its output left free",
    },
    "output": {
        "before": "the output that is tested into the input of the interface",
        "with": "the same with a --load across it: a resistor about as large as the output",
    },
}
# The recordings of which each has a load, by recipe.
_LOADED: Final[Mapping[str, str]] = {"pickup": "loaded", "output": "with"}


def option(role: str) -> str:
    """Return the option of a recording."""
    return f"--{role}"


def is_table(path: str) -> bool:
    """Return whether a file holds a table in place of a recording."""
    return path.lower().endswith(".csv")


def recorded_way(recipe: str, given: Given) -> Way:
    """Return the way in which a thing was measured.

    Parameters
    ----------
    recipe : its name
    given : the recordings

    Raises
    ------
    SigsimError : a recording has no place in the recipe, or some are missing
    """
    from sigsim.measure.recipes import RECIPES

    ways, where = RECIPES[recipe].ways, f"measure {recipe}"
    roles = [role for role, files in given.items() if files]
    for role in roles:
        if role not in RECIPES[recipe].roles:
            accepted = ", ".join(map(option, RECIPES[recipe].roles))
            raise SigsimError(
                f"{where} has no place for this recording", where=option(role), accepted=accepted
            )
    fitting = [way for way in ways if set(roles) <= set(way.roles)]
    if not fitting:
        found = ", ".join(map(option, roles))
        accepted = "; or ".join(", ".join(map(option, way.roles)) for way in ways)
        what = "these recordings belong to different ways of measuring"
        raise SigsimError(what, where=where, found=found, accepted=accepted)
    whole = [way for way in fitting if not _missing(way, given)]
    if not whole:
        raise _incomplete(recipe, fitting, given)
    return whole[0]


def _missing(way: Way, given: Given) -> list[str]:
    """Return the recordings that are missing.

    Tables may be ratios already; then there is nothing that they are divided by.
    """
    others = [given[role] for role in way.needed]
    if all(files and all(map(is_table, files)) for files in others):
        return []
    return [role for role in (way.first, *way.needed) if not given[role]]


def _incomplete(recipe: str, ways: Sequence[Way], given: Given) -> SigsimError:
    """Return the error that names all that is missing, and how each is recorded."""
    lists = [
        ", ".join(f"{option(role)} ({WIRING[recipe][role]})" for role in _missing(way, given))
        for way in ways
    ]
    number = "a recording is" if len(_missing(ways[0], given)) == 1 else "recordings are"
    what = f"{number} missing: {'; or else '.join(lists)}"
    return SigsimError(what, where=f"measure {recipe}")


def check_loads(recipe: str, way: Way, given: Given, loads: int) -> None:
    """Refuse loads that are not as many as recordings with a load.

    Parameters
    ----------
    recipe : its name
    way : in which it is measured
    given : the recordings
    loads : how many were told

    Raises
    ------
    SigsimError : they are more or fewer
    """
    role = _LOADED.get(recipe)
    if role not in way.needed or role is None or len(given[role]) == loads:
        return
    raise SigsimError(
        f"every {option(role)} needs a --load that says what lay across it, in the same order",
        where=f"measure {recipe}",
        found=f"{len(given[role])} {option(role)} and {loads} --load",
    )
