"""Boards whose quantities vary within their tolerances: which ones, and a board of many draws.

A quantity's place within its tolerance is a number u from -1 (the low end) over 0 (as written) to
1 (the high end). A row of such numbers, one a quantity, is a board; many rows are one board whose
varying fields are arrays of shape (rows, 1), which everything in physics broadcasts.

What is one thing varies as one: a kind of cable by name (a reel), the wiring between stages.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from sigsim.board.edit import places as listed_places
from sigsim.board.idle import unheard_keys
from sigsim.board.inside import wirings
from sigsim.board.rebuilt import Rebuilt
from sigsim.items.cable import Cable
from sigsim.items.fields import Declared, Spec, specs
from sigsim.items.split import Split
from sigsim.items.tap import Tap
from sigsim.physics.arrays import scalar

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.items.base import Item
    from sigsim.physics.arrays import FloatArray

# The kinds of quantity that can be given a tolerance, by the word for it; what is per metre counts
# as what it is. Noise figures change nothing that is measured here.
KINDS: Final = (
    "resistance",
    "capacitance",
    "inductance",
    "length",
    "frequency",
    "gain",
    "ratio",
    "exponent",
    "knob",
)
# What cannot be beyond its range in any board: draws are cut to 0 and this.
_MOST: Final = {"exponent": 1.0, "knob": 10.0}
# A quantity that must be more than 0 stays so at the low end of ± 100 %.
_ABOVE_ZERO: Final = 1e-6
# Normal draws keep within the tolerance, which is two standard deviations.
_DEVIATIONS: Final = 2.0


@dataclass(frozen=True, eq=False)
class Varied:
    """One quantity that varies.

    Attributes
    ----------
    owner : the item it belongs to
    place : what a person calls that item
    key : of the quantity
    kind : one of `KINDS`
    value : as written [SI unit]
    tolerance : half the width of its range as a fraction of the value
    above_zero : whether it must be more than 0
    """

    owner: Declared
    place: str
    key: str
    kind: str
    value: float
    tolerance: float
    above_zero: bool

    def at(self, u: FloatArray) -> FloatArray:
        """Return the value [SI unit] at places u within the tolerance, shape (rows, 1)."""
        value = self.value * (1 + self.tolerance * u[:, None])
        if self.kind in _MOST:
            value = np.clip(value, 0.0, _MOST[self.kind])
        elif self.above_zero:
            value = np.maximum(value, _ABOVE_ZERO * self.value)
        return value


@dataclass(frozen=True)
class Exact:
    """One figure that the file gives and that does not vary, because no tolerance is written.

    Attributes
    ----------
    place : what a person calls the item it belongs to
    key : of the quantity
    kind : a kind of quantity, what is per length kept apart
    value : [SI unit]
    """

    place: str
    key: str
    kind: str
    value: float


def exact(board: Board, defaults: Mapping[str, float] | None = None) -> tuple[Exact, ...]:
    """Return the figures that the file gives without a tolerance, each once, in order.

    Parameters
    ----------
    board : the board
    defaults : tolerance by kind, for the quantities that carry none [fraction]
    """
    return tuple(
        Exact(place, key, spec.kind, float(getattr(owner, key)))
        for place, owner in owners(board)
        for key, spec in specs(type(owner)).items()
        if key in owner.bare
        and not spec.exact
        and (kind := _kind(spec)) in KINDS
        and getattr(owner, key)
        and not (defaults or {}).get(kind)
    )


def _kind(spec: Spec) -> str:
    """Return a kind of quantity by which a tolerance is given."""
    return spec.kind.removesuffix(" per length")


def varied(board: Board, defaults: Mapping[str, float] | None = None) -> tuple[Varied, ...]:
    """Return the quantities of a board that vary, each once, from instrument to destination.

    Parameters
    ----------
    board : the board
    defaults : tolerance by kind, for the quantities that carry none [fraction]
    """
    found = []
    for place, owner in owners(board):
        unheard = unheard_keys(owner, board.instrument) if defaults else ()
        for key, spec in specs(type(owner)).items():
            kind = _kind(spec)
            value = getattr(owner, key)
            if kind not in KINDS or spec.exact or not value or key in unheard:
                continue
            tolerance = owner.tolerances.get(key) or (defaults or {}).get(kind, 0.0)
            if tolerance:
                above = spec.above_zero
                found.append(Varied(owner, place, key, kind, float(value), tolerance, above))
    return tuple(found)


def owners(board: Board) -> Iterator[tuple[str, Declared]]:
    """Yield everything that has quantities, each once, with what a person calls it."""
    seen: set[int] = set()
    names: dict[str, int] = {}
    for place, owner in _all_owners(board):
        if id(owner) not in seen:
            seen.add(id(owner))
            names[place] = names.get(place, 0) + 1
            yield place if names[place] == 1 else f"{place} ({names[place]})", owner


def _all_owners(board: Board) -> Iterator[tuple[str, Declared]]:
    yield "instrument", board.instrument
    for pickup in getattr(board.instrument, "pickups", ()):
        yield f"pickup {pickup.name}", pickup
    for item in _listed_in_order(board):
        if isinstance(item, Cable):
            yield from _of_cable(item)
        elif isinstance(item, Split):  # has no quantities but those of its end
            yield item.destination.name, item.destination
        else:
            yield item.label, item
            if isinstance(item, Tap):
                yield from _of_cable(item.cable)
    yield board.destination.name, board.destination


def _listed_in_order(board: Board) -> Iterator[Item]:
    """Yield the items of the chain in order as the file lists them, the wiring where it is put."""
    listed = (item for _, item in listed_places(board))
    put = {id(wiring): wiring for wiring in wirings(board)}
    # A length that follows from a layout is no figure of the file: the cable there is what varies.
    put |= {id(run.made): run.cable for run in board.runs if not run.listed}
    for item in board.items():
        yield put[id(item)] if id(item) in put else next(listed)


def _of_cable(cable: Cable) -> Iterator[tuple[str, Declared]]:
    yield f"cable {cable.cable}", cable.spec
    length = getattr(cable.length, "text", "") or f"{scalar(cable.length):.3g} m"
    yield f"the {length} of {cable.cable}", cable


def places(
    generator: np.random.Generator, rows: int, quantities: int, *, normal: bool
) -> FloatArray:
    """Draw places within the tolerances, shape (rows, quantities).

    The same generator gives the same rows, however many are drawn at a time.
    """
    u: FloatArray = generator.uniform(-1.0, 1.0, (rows, quantities))
    return _normal(u) if normal else u


def _normal(u: FloatArray) -> FloatArray:
    """Turn evenly distributed places into normal ones that keep within the tolerance."""
    from scipy.special import ndtr, ndtri

    share = float(ndtr(_DEVIATIONS)) - 0.5
    normal: FloatArray = ndtri(0.5 + u * share) / _DEVIATIONS
    return normal


def at_places(board: Board, quantities: Sequence[Varied], u: FloatArray) -> Board:
    """Return a board of many draws.

    Parameters
    ----------
    board : the board
    quantities : from `varied`
    u : places within the tolerances, shape (rows, quantities)

    Returns
    -------
    the board with each quantity as an array of shape (rows, 1)
    """
    changes: dict[int, dict[str, Any]] = {}
    for column, quantity in enumerate(quantities):
        changes.setdefault(id(quantity.owner), {})[quantity.key] = quantity.at(u[:, column])
    return Rebuilt(changes).board(board)
