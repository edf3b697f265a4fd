"""Options of the commands that measure: what is known of the parts around the thing."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from typing import TYPE_CHECKING, Any, Final, TypeVar, cast

import click

from sigsim.cli import options
from sigsim.errors import QuantityError
from sigsim.units import Quantity, carries_tolerance, parse

if TYPE_CHECKING:
    from sigsim.measure.known import Across

_F = TypeVar("_F", bound=Callable[..., Any])

# Of a part that was bought: what is printed on a metal film resistor.
_BOUGHT: Final = 0.01
# An input or a resistor in front of a board has some kilohms at least [Ω].
_BARE: Final = 3000.0
# How a text with a unit ends, in small letters.
_UNITS: Final = {"resistance": ("ω", "ohm", "ohms"), "capacitance": ("f", "farad")}
_ACROSS: Final = 'a resistance, a capacitance or both, such as "1 MΩ, 450 pF"'
_LOAD: Final = 'a resistance or a capacitance, such as "10 nF ± 1 %" or "200 kΩ ± 1 %"'


@dataclass(frozen=True)
class KnownOption:
    """An option that says something known.

    Attributes
    ----------
    field : of `Known`
    kind : of quantity
    metavar, help : as shown
    tolerance : where none is written [fraction]
    above_zero : whether 0 is refused
    """

    field: str
    kind: str
    metavar: str
    help: str
    tolerance: float = 0.0
    above_zero: bool = True

    @property
    def name(self) -> str:
        """The option as it is written."""
        return f"--{self.field.replace('_', '-')}"

    def read(self, text: str) -> Quantity:
        """Return the quantity.

        Raises
        ------
        QuantityError : it is none, or of another kind
        """
        return quantity(
            text, self.kind, self.name, tolerance=self.tolerance, above_zero=self.above_zero
        )


QUANTITIES: Final = (
    KnownOption(
        "resistor",
        "resistance",
        "R",
        'Between output and lead: "100 kΩ ± 0.5 %"; ± 1 % if not said.',
        _BOUGHT,
    ),
    KnownOption(
        "output_resistance",
        "resistance",
        "R",
        "Of the interface's output; 150 Ω ± 100 % if not said.",
        above_zero=False,
    ),
    KnownOption(
        "interface_input", "resistance", "R", "Of the interface's input, without the lead: 1 MΩ."
    ),
    KnownOption("length", "length", "L", "Of the cable: 6 m."),
    KnownOption(
        "plug_capacitance",
        "capacitance",
        "C",
        "Of each plug of the cable: 5 pF; 0 ± 10 pF if not said.",
        above_zero=False,
    ),
    KnownOption(
        "volume_track",
        "resistance",
        "R",
        'Of the volume pot: "250 kΩ ± 20 %", which is taken if not said; with --open, if it shows.',
    ),
    KnownOption(
        "tone_track", "resistance", "R", 'Of the tone pot, if it has one: "250 kΩ ± 20 %".'
    ),
    KnownOption(
        "tone_capacitor", "capacitance", "C", 'Of the tone control, if it has one: "47 nF ± 10 %".'
    ),
    KnownOption(
        "loss_exponent",
        "exponent",
        "N",
        "How the coil's loss goes with frequency: 0 to 1, 0.5 for a coil with metal in it.",
        above_zero=False,
    ),
)
BYPASSES: Final = ("true", "hardwire", "buffered")


def quantity(
    text: str, kind: str, where: str, *, tolerance: float = 0.0, above_zero: bool = True
) -> Quantity:
    """Return what an option says.

    Parameters
    ----------
    text : as it was given
    kind : of quantity
    where : the option
    tolerance : where none is written [fraction]
    above_zero : whether 0 is refused

    Raises
    ------
    QuantityError : it is no such quantity
    """
    try:
        found = parse(options.number_or_text(text), kind, above_zero=above_zero)
    except QuantityError as error:
        raise error.at(where) from None
    return found if carries_tolerance(text) else Quantity(found.value, tolerance)


def across(text: str, where: str, accepted: str = _ACROSS, *, tolerance: float = 0.0) -> Across:
    """Return what lies across a line from `"1 MΩ, 450 pF"`.

    Parameters
    ----------
    text : a resistance, a capacitance, or both
    where : the option
    accepted : what would be right
    tolerance : where none is written [fraction]

    Raises
    ------
    SigsimError : it is neither, or one of them twice
    """
    from sigsim.measure.known import Across

    found: dict[str, Quantity] = {}
    for part in text.split(","):
        kind = _kind(part.strip(), where, accepted)
        if accepted is _ACROSS:
            refuse_bare(part.strip(), where, accepted)
        if kind in found:
            raise options.unfit(where, text, f"there are two of {kind} here", accepted)
        found[kind] = quantity(part.strip(), kind, where, tolerance=tolerance)
    return Across(found.get("resistance"), found.get("capacitance"))


def refuse_bare(text: str, where: str, accepted: str) -> None:
    """Refuse a number alone that is far below what a resistance here has: `150` for 150 pF or kΩ.

    Parameters
    ----------
    text : as it was given
    where : the option
    accepted : what would be right

    Raises
    ------
    SigsimError : it needs a unit
    """
    if 0 < options.number(text) < _BARE:
        what = f"{text} of what? A number alone is in Ω, and hardly meant here: write its unit"
        raise options.unfit(where, text, what, accepted)


def _kind(text: str, where: str, accepted: str) -> str:
    """Return which kind of quantity a text is; a bare `10n` or `10k` can be but one of them."""
    bare = re.split(r"±|\+", text)[0].strip().casefold()
    for kind, units in _UNITS.items():
        if bare.endswith(units):
            return kind
    fits = [kind for kind in _UNITS if _reads(text, kind)]
    if len(fits) == 1:
        return fits[0]
    what = "it is not clear whether this is Ω or F" if fits else "this is neither Ω nor F"
    raise options.unfit(where, text, what, accepted)


def _reads(text: str, kind: str) -> bool:
    try:
        parse(options.number_or_text(text), kind)
    except QuantityError:
        return False
    return True


def known_options(command: _F) -> _F:
    """Add an option for everything that can be known; gives `known`."""

    @wraps(command)
    def with_known(
        *, probe: str | None, load: tuple[str, ...], bypass: str | None, **given: Any
    ) -> Any:
        from sigsim.measure.known import Known

        texts = {q.field: given.pop(q.field) for q in QUANTITIES}
        known = Known(
            **{q.field: q.read(texts[q.field]) for q in QUANTITIES if texts[q.field] is not None},
            probe=None if probe is None else across(probe, "--probe"),
            loads=tuple(_load(text) for text in load),
            bypass=bypass,
        )
        return command(known=known, **given)

    made: Any = with_known
    others = (
        click.option(
            "--probe",
            metavar="R,C",
            help='With --open: lead and interface input together, "1 MΩ, 450 pF".',
        ),
        click.option(
            "--load",
            multiple=True,
            metavar="C|R",
            help='What lies across: "10 nF", or "1 kΩ" for an output; ± 1 % if not said. '
            "One for each --loaded.",
        ),
        click.option("--bypass", type=click.Choice(BYPASSES), help="What the board file says."),
    )
    for added in reversed(others):
        made = added(made)
    for known in reversed(QUANTITIES):
        made = click.option(known.name, known.field, metavar=known.metavar, help=known.help)(made)
    return cast("_F", made)


def _load(text: str) -> Across:
    found = across(text, "--load", _LOAD, tolerance=_BOUGHT)
    if found.resistance is not None and found.capacitance is not None:
        raise options.unfit("--load", text, "a load is one part", _LOAD)
    return found
