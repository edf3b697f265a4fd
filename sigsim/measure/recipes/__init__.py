"""What can be measured: for each recipe its recordings and the options that matter to it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

_POINT: Final = ("resistor", "output_resistance", "interface_input")
_COIL: Final = ("volume_track", "tone_track", "tone_capacitor", "loss_exponent")


@dataclass(frozen=True)
class Way:
    """One way to record what a recipe needs.

    Attributes
    ----------
    first : the recording that all others are divided by
    needed : the others, each of which must be there
    optional : those that may be there as well
    options : fields of `Known` that have an effect
    """

    first: str
    needed: tuple[str, ...]
    options: tuple[str, ...]
    optional: tuple[str, ...] = ()

    @property
    def roles(self) -> tuple[str, ...]:
        """All its recordings, in the order they are made."""
        return (self.first, *self.needed, *self.optional)


@dataclass(frozen=True)
class Recipe:
    """One thing that can be measured.

    Attributes
    ----------
    name : as it is called
    what : what comes out, in one line
    ways : to record it, the usual one first
    """

    name: str
    what: str
    ways: tuple[Way, ...]

    @property
    def roles(self) -> tuple[str, ...]:
        """All recordings of all ways."""
        return tuple(dict.fromkeys(role for way in self.ways for role in way.roles))

    @property
    def options(self) -> tuple[str, ...]:
        """All fields of `Known` that have an effect in one of the ways."""
        return tuple(dict.fromkeys(option for way in self.ways for option in way.options))


def _by_resistor(*options: str, optional: tuple[str, ...] = ()) -> Way:
    return Way("loop", ("before", "with"), (*_POINT, *options), optional)


RECIPES: Final[dict[str, Recipe]] = {
    recipe.name: recipe
    for recipe in (
        Recipe(
            "cable",
            "capacitance of a cable, in all and by the metre, and what its insulation loses",
            (_by_resistor("length", "plug_capacitance"),),
        ),
        Recipe(
            "pickup",
            "resistance, inductance, capacitance and loss of a pickup behind its jack",
            (
                _by_resistor(*_COIL, optional=("half",)),
                Way("open", ("loaded",), (*_COIL, "probe", "loads")),
            ),
        ),
        Recipe("input", "resistance and capacitance of a pedal's input", (_by_resistor(),)),
        Recipe(
            "bypass",
            "what a box that is off hangs on the line",
            (_by_resistor("bypass"),),
        ),
        Recipe(
            "output",
            "resistance of an output",
            (Way("before", ("with",), ("loads", "interface_input")),),
        ),
    )
}
