"""How an item declares the keys a board file may give it.

One declaration serves the reader, the JSON Schema, the key tables of the docs and the tolerances.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any, Final

_REQUIRED: Final[Any] = dataclasses.MISSING
# Kinds of key that are no figure of a thing: words, and how its knobs stand.
_NO_FIGURES: Final = frozenset(
    {"choice", "flag", "text", "names", "taper", "date", "knob", "rows", "edge", "battery"}
)
# The key that says of a table's figures when they were measured.
MEASURED: Final = "measured"
# The keys that say where a thing may stand in its chain: they change no response.
STANDING: Final = ("role", "before", "after", "fixed")
# The keys that say how large a thing is, where its jacks are and where it stands on its board.
PLACING: Final = ("width", "depth", "jacks", "input_at", "output_at", "place")
# The keys that say what feeds a thing.
FEEDING: Final = (
    "current",
    "current_off",
    "voltage",
    "polarity",
    "supply",
    "battery_inside",
    "usual_current",
)

# What no real part exceeds, where that is less than its kind of quantity may be [SI units]: strays
# and inputs have picofarads to a few nanofarads, an air-cored choke or a coil at most some tens of
# henries, an insulation that loses more than it stores is none.
_MOST: Final[Mapping[tuple[str, str], float]] = {
    ("capacitance", "plug_capacitance"): 10e-9,
    ("capacitance", "capacitance"): 1e-6,
    ("capacitance", "winding_capacitance"): 1e-6,
    ("capacitance", "wiring_capacitance"): 1e-6,
    ("capacitance", "input_capacitance"): 1e-6,
    ("capacitance", "bypass_input_capacitance"): 1e-6,
    ("inductance", "inductance"): 1e3,
    ("inductance", "leakage_inductance"): 1e3,
    ("ratio", "loss_tangent"): 1.0,
}


@dataclass(frozen=True)
class Spec:
    """What a key accepts.

    Attributes
    ----------
    kind : a kind of quantity of `sigsim.quantities.KINDS`, or "choice", "flag", "text", "names",
        "taper", "date", "rows" of names, "edge" (a word, or a position), "battery"
    help : one plain line
    choices : the accepted words of a choice
    above_zero : whether zero is refused
    most : the largest value that can be meant [SI unit of its kind], None for that of its kind
    usually_kilohms : whether a value under one ohm is probably a slip of the prefix
    exact : whether no tolerance is taken: it changes no response
    several : how many values a list has: "" for one value that is no list, "pair" for two,
        "range" for two of which the second is not less, "some" for one value or a list of them,
        "rising" for the same, each more than the one before
    once : whether a name that stands twice in a list is refused: its place there counts
    """

    kind: str
    help: str
    choices: tuple[str, ...] = ()
    above_zero: bool = False
    usually_kilohms: bool = False
    most: float | None = None
    exact: bool = False
    several: str = ""
    once: bool = False


@dataclass(frozen=True, kw_only=True)
class Declared:
    """Base of everything that a table of a board file describes.

    Attributes
    ----------
    tolerances : fraction of the value by key, for the keys that carry one
    part : the part its figures came from, empty for none
    bare : the keys that the file itself gives and says of no tolerance
    measured : the day on which its figures were measured, `2026-11-28`; empty where none is told
    """

    tolerances: Mapping[str, float] = field(default_factory=dict, compare=False, repr=False)
    part: str = field(default="", compare=False, repr=False)
    bare: frozenset[str] = field(default=frozenset(), compare=False, repr=False)
    measured: str = field(
        default="",
        compare=False,
        repr=False,
        metadata={"spec": Spec("date", "the day on which the figures of this table were measured")},
    )


def quantity(
    kind: str,
    help: str,
    default: Any = _REQUIRED,
    *,
    above_zero: bool = False,
    usually_kilohms: bool = False,
    exact: bool = False,
    several: str = "",
    compare: bool = True,
) -> Any:
    """Declare a quantity; `default` is in SI units, None for "not there"."""
    spec = Spec(
        kind,
        help,
        above_zero=above_zero,
        usually_kilohms=usually_kilohms,
        exact=exact or bool(several),
        several=several,
    )
    return dataclasses.field(default=default, compare=compare, metadata={"spec": spec})


@cache
def _in_range(key: str, spec: Spec) -> Spec:
    return dataclasses.replace(spec, most=_MOST.get((spec.kind, key)))


def choice(help: str, choices: tuple[str, ...], default: Any = _REQUIRED) -> Any:
    """Declare a word out of a few."""
    return dataclasses.field(default=default, metadata={"spec": Spec("choice", help, choices)})


def flag(help: str, default: bool) -> Any:
    """Declare a yes or no."""
    return dataclasses.field(default=default, metadata={"spec": Spec("flag", help)})


def text(help: str, default: Any = _REQUIRED) -> Any:
    """Declare a name."""
    return dataclasses.field(default=default, metadata={"spec": Spec("text", help)})


def battery(help: str) -> Any:
    """Declare a battery: an energy or a charge, None for none."""
    return dataclasses.field(default=None, metadata={"spec": Spec("battery", help, exact=True)})


def names(help: str, *, once: bool = False) -> Any:
    """Declare a list of names, none of them if it is not given."""
    return dataclasses.field(default=(), metadata={"spec": Spec("names", help, once=once)})


def rows(help: str) -> Any:
    """Declare a list of lists of names, none of them if it is not given."""
    return dataclasses.field(default=(), metadata={"spec": Spec("rows", help)})


def edge(help: str, words: tuple[str, ...]) -> Any:
    """Declare a position, or a word for one; None if it is not given."""
    return dataclasses.field(default=None, metadata={"spec": Spec("edge", help, words)})


def taper(help: str, default: float) -> Any:
    """Declare a potentiometer's taper, kept as the fraction of its track at mid-travel."""
    return dataclasses.field(default=default, metadata={"spec": Spec("taper", help)})


def specs(item: type) -> dict[str, Spec]:
    """Return the declared keys of an item class in order of declaration.

    Behind what a thing is comes where it may stand. Where there are figures, the last key says when
    they were measured.
    """
    found = {
        field.name: _in_range(field.name, field.metadata["spec"])
        for field in dataclasses.fields(item)
        if "spec" in field.metadata
    }
    found |= {key: found.pop(key) for key in (*STANDING, *PLACING, *FEEDING) if key in found}
    measured = found.pop(MEASURED, None)
    if measured is not None and figure_keys(found):
        found[MEASURED] = measured
    return found


def figure_keys(known: Mapping[str, Spec]) -> list[str]:
    """Return those of some declared keys that are figures, which one can measure."""
    return [key for key, spec in known.items() if spec.kind not in _NO_FIGURES and not spec.exact]
