"""From recordings to figures: which recipe takes what, and the way through it."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from importlib import import_module
from threading import Thread
from typing import TYPE_CHECKING, Final

from sigsim.errors import SigsimError, UnknownNameError, shown_path
from sigsim.measure.known import Known
from sigsim.measure.recipes import RECIPES, Recipe, Way
from sigsim.measure.recipes.cable import fit_cable
from sigsim.measure.recipes.output import fit_output
from sigsim.measure.recipes.pedal import fit_bypass, fit_input
from sigsim.measure.recipes.pickup import fit_at_jack, fit_by_exciter

if TYPE_CHECKING:
    from sigsim.measure.played import Played
    from sigsim.measure.response import Heard, Ratio
    from sigsim.measure.result import Measured

    Ratios = Mapping[str, Sequence[Ratio]]

_FITS: Final[Mapping[tuple[str, str], Callable[[Ratios, Known], Measured]]] = {
    ("cable", "loop"): fit_cable,
    ("pickup", "loop"): fit_at_jack,
    ("pickup", "open"): fit_by_exciter,
    ("input", "loop"): fit_input,
    ("bypass", "loop"): fit_bypass,
    ("output", "before"): fit_output,
}
# Of which there may be more than one recording.
_SEVERAL: Final = "loaded"


def fit(recipe: str, ratios: Ratios, known: Known) -> Measured:
    """Return what a recipe finds in ratios.

    Parameters
    ----------
    recipe : its name
    ratios : by role: `before`, `with`, `half` over the loop; `loaded` over `open`; of an output
        `with` over `before`
    known : what the user said

    Raises
    ------
    SigsimError : a ratio or a quantity is missing, says nothing here, or is impossible
    """
    way = chosen(_recipe(recipe), ratios, known)
    return _FITS[recipe, way.first](ratios, known)


def measure(
    recipe: str,
    files: Mapping[str, Sequence[str]],
    known: Known,
    played: Played | None = None,
    progress: Callable[[int], None] | None = None,
) -> Measured:
    """Return what a recipe finds in recordings or tables.

    Parameters
    ----------
    recipe : its name
    files : by role; without the first one the others are tables of ratios
    known : what the user said
    played : the sweep, None for that of the defaults
    progress : told how many samples have been read since

    Raises
    ------
    SigsimError : something is missing, says nothing here, or is impossible
    """
    from sigsim.measure.heard import hear

    way = chosen(_recipe(recipe), files, known)
    _refuse_doubles(files)
    # What a fit needs takes as long to load as a recording to hear.
    loading = Thread(target=import_module, args=("scipy.optimize",), daemon=True)
    loading.start()
    heard: dict[str, list[Heard]] = {}
    try:
        for role in (role for role in way.roles if files.get(role)):
            loop = role == "loop"
            heard[role] = [hear(p, played, loop=loop, progress=progress) for p in files[role]]
    finally:
        loading.join()
    return found_in(recipe, heard, known)


def found_in(recipe: str, heard: Mapping[str, Sequence[Heard]], known: Known) -> Measured:
    """Return what a recipe finds in recordings or tables that have been heard.

    Parameters
    ----------
    recipe : its name
    heard : by role; without the first one the others are tables of ratios
    known : what the user said

    Raises
    ------
    SigsimError : something is missing, says nothing here, or is impossible
    """
    from sigsim.measure.clocks import with_clocks
    from sigsim.measure.ratios import alone, ratio

    way = chosen(_recipe(recipe), heard, known)
    clocked = with_clocks(heard)
    first = clocked.get(way.first, [])
    others = {role: found for role, found in clocked.items() if role != way.first}
    if not first:
        _refuse_recordings(others, way)
    ratios = {
        role: [ratio(one, first[0]) if first else alone(one) for one in found]
        for role, found in others.items()
    }
    return _with_files(fit(recipe, ratios, known), heard)


def chosen(recipe: Recipe, there: Mapping[str, Sequence[object]], known: Known) -> Way:
    """Return the way that fits what is there, and refuse what would say nothing.

    Parameters
    ----------
    recipe : which
    there : recordings or ratios, by role
    known : what the user said

    Raises
    ------
    SigsimError : a role or an option is missing or has no effect
    """
    given = [role for role, found in there.items() if found]
    way = max(recipe.ways, key=lambda w: sum(role in w.roles for role in given))
    where = f"measure {recipe.name}"
    for role in given:
        if role not in way.roles:
            raise SigsimError(
                f"this recording says nothing {_here(recipe, way)}",
                where=where,
                found=f"--{role}",
                accepted=_listed(way.roles),
            )
    for role in way.needed:
        if role not in given:
            raise SigsimError(
                f"the recording --{role} is missing", where=where,
                found=_listed(given) or "no recording", accepted=_listed(way.roles),
            )  # fmt: skip
    for field in dataclasses.fields(Known):
        if getattr(known, field.name) not in (None, ()) and field.name not in way.options:
            raise SigsimError(
                f"--{_option(field.name)} changes nothing {_here(recipe, way)}",
                where=where,
                accepted=", ".join(f"--{_option(name)}" for name in way.options),
            )
    return way


def _recipe(name: str) -> Recipe:
    if name not in RECIPES:
        raise UnknownNameError("recipe", name, tuple(RECIPES))
    return RECIPES[name]


def _here(recipe: Recipe, way: Way) -> str:
    return f"beside --{way.first}" if len(recipe.ways) > 1 else "here"


def _listed(roles: Sequence[str]) -> str:
    return ", ".join(f"--{role}" for role in roles)


def _option(field: str) -> str:
    return "load" if field == "loads" else field.replace("_", "-")


def _refuse_doubles(files: Mapping[str, Sequence[str]]) -> None:
    for role, paths in files.items():
        if len(paths) > 1 and role != _SEVERAL:
            raise SigsimError(
                "one recording is wanted", where=f"--{role}",
                found=", ".join(map(shown_path, paths)),
            )  # fmt: skip


def _refuse_recordings(heard: Mapping[str, Sequence[Heard]], way: Way) -> None:
    """Refuse recordings without the one that they are divided by."""
    for role, found in heard.items():
        for one in found:
            if one.clock_ppm is not None:
                raise SigsimError(
                    f"a recording says something only beside that of --{way.first}; only a table "
                    f"can be a ratio already",
                    where=f"{shown_path(one.name)} (--{role})",
                )


def _with_files(measured: Measured, heard: Mapping[str, Sequence[Heard]]) -> Measured:
    """Return what was found with what should be known of the recordings."""
    from sigsim.measure.noise import merged, notes_of

    every = [one for found in heard.values() for one in found]
    clocks = [one.clock_ppm for one in every if one.clock_ppm is not None]
    notes = notes_of(every)
    return dataclasses.replace(
        measured,
        files={role: tuple(one.name for one in found) for role, found in heard.items()},
        clock_ppm=sum(clocks) / len(clocks) if clocks else None,
        left_out=merged(*(one.left_out for one in every)),
        notes=tuple(dict.fromkeys((*notes, *measured.notes))),
    )
