"""Where every figure of a board came from: its file, a part of the library, or a default."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal, TypeAlias

import numpy as np

from sigsim.board.idle import unheard_keys
from sigsim.board.tables import read_table
from sigsim.items.cable import Cable
from sigsim.items.destination import Destination
from sigsim.items.fields import FEEDING, MEASURED, PLACING, Declared, figure_keys, specs
from sigsim.items.instrument import PassiveInstrument
from sigsim.items.split import Split
from sigsim.items.tap import Tap
from sigsim.physics.arrays import scalar

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.parts import Part

    Origin: TypeAlias = Literal["file", "part", "default"]

_NAMES = ("stage", "loop", "split", "tap", "cable", "name")


@dataclass(frozen=True)
class Figure:
    """One figure of one thing.

    Attributes
    ----------
    key : as in a board file
    kind : of quantity, or "choice", "flag", "taper"
    value : in SI units, a word, or true or false
    tolerance : as a fraction, 0 for none
    origin : where it was given
    source : where the part has it from, empty unless `origin` is "part"
    measured : the day on which it was measured, empty unless the file tells one for its figures
    """

    key: str
    kind: str
    value: Any
    tolerance: float
    origin: Origin
    source: str
    measured: str = ""


@dataclass(frozen=True)
class Figures:
    """All figures of things that are alike.

    Attributes
    ----------
    things : what they are called: (kind of thing, name)
    part : the part they started from, empty for none
    figures : in the order of declaration
    """

    things: tuple[tuple[str, str], ...]
    part: str
    figures: tuple[Figure, ...]


def figures(board: Board) -> tuple[Figures, ...]:
    """Return the figures of everything on a board; things with the same figures come together.

    A default of nothing (0, none, false) is left out, and one of what is not there (a volume knob
    without its pot).
    """
    found: dict[tuple[str, tuple[Figure, ...]], list[tuple[str, str]]] = {}
    for kind, name, thing in things(board):
        key = thing.part, tuple(figures_of(thing, board))
        names = found.setdefault(key, [])
        if (kind, name) not in names:
            names.append((kind, name))
    return tuple(Figures(tuple(names), p, made) for (p, made), names in found.items())


def things(board: Board) -> Iterator[tuple[str, str, Declared]]:
    """Yield all that has figures but pieces of cable: the kind of thing, its name, itself."""
    yield "instrument", "", board.instrument
    if isinstance(board.instrument, PassiveInstrument):
        for pickup in board.instrument.pickups:
            yield "pickup", pickup.name, pickup
    for name, spec in board.cables.items():
        yield "cable", name, spec
    for item in board.items():
        if not isinstance(item, Cable):
            yield item.key, item.label, item
        if isinstance(item, Split):
            yield "destination", item.destination.name, item.destination
    yield "destination", board.destination.name, board.destination


def figures_of(thing: Declared, board: Board) -> Iterator[Figure]:
    """Yield the figures of one thing in the order of declaration; see `figures`."""
    given = board.library.of(thing.part)
    values, tolerances = of_part(thing, given)
    defaults = {f.name: f.default for f in dataclasses.fields(thing)}
    unheard, own = unheard_keys(thing, board.instrument), figure_keys(specs(type(thing)))
    for key, spec in specs(type(thing)).items():
        value, tolerance = getattr(thing, key), float(thing.tolerances.get(key, 0.0))
        if key in (*_NAMES, *PLACING, *FEEDING, MEASURED) or spec.exact or value is None:
            continue
        if isinstance(value, np.ndarray):
            value = scalar(value)
        if given is not None and values.get(key) == value and tolerances.get(key, 0) == tolerance:
            yield Figure(key, spec.kind, value, tolerance, "part", given.sources.get(key, ""))
        elif defaults.get(key) == value and not tolerance:
            if value and key not in unheard:
                yield Figure(key, spec.kind, value, 0.0, "default", "")
        else:
            yield Figure(
                key, spec.kind, value, tolerance, "file", "", thing.measured if key in own else ""
            )


def of_part(thing: Declared, given: Part | None) -> tuple[dict[str, Any], dict[str, float]]:
    """Return the values and tolerances that a part gives to a thing."""
    if given is None:
        return {}, {}
    known = specs(type(thing))
    values = {key: value for key, value in given.values.items() if key in known}
    if isinstance(thing, Tap | Destination):
        values.pop("name", None)
    table = read_table(type(thing), values, given.name, partial=True)
    return table.values, table.tolerances
