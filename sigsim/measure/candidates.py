"""What of a board may be other than its file says: every figure, and every switch."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from sigsim.board.idle import unheard_keys
from sigsim.board.rebuilt import Rebuilt
from sigsim.items.base import Item
from sigsim.items.cable import Cable, CableSpec
from sigsim.items.fields import Declared, Spec, specs
from sigsim.items.tap import Tap
from sigsim.measure.tried import tried
from sigsim.physics.source import Source, angular
from sigsim.quantities import KINDS
from sigsim.states.varied import owners

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.board.state import On
    from sigsim.physics.arrays import FloatArray

# What a switch that stands otherwise is called where a file would have a key.
ON: Final = "on"
# Where an item is tried for whether a figure of it counts [Hz], and from which source [Ω].
_PROBED_HZ: Final = np.array([100.0, 3e3, 10e3])
_PROBED_FROM: Final = 1e5
_SAME: Final = 1e-12


@dataclass(frozen=True, eq=False)
class Candidate:
    """One figure, changed alone.

    Attributes
    ----------
    name : what a person calls what it belongs to
    key : of the board file
    unit : SI
    owner : what it belongs to
    spec : as it is declared
    written : the figure of the file, infinite for an input that is open [`unit`]
    values : to try, rising, the written one among them [`unit`]
    """

    name: str
    key: str
    unit: str
    owner: Declared
    spec: Spec
    written: float
    values: FloatArray

    def boards(self, board: Board, values: FloatArray) -> Board:
        """Return the board with each of some values, its rows."""
        return Rebuilt({id(self.owner): {self.key: values[:, None]}}).board(board)


@dataclass(frozen=True, eq=False)
class Switched:
    """One switch that stood otherwise in some recordings.

    Attributes
    ----------
    name : of the switch
    built : what was on instead, by the number of the recording
    change : 1 for on instead of off, -1 for off instead of on
    everywhere : whether it stood otherwise in all recordings in which it stood so
    """

    name: str
    built: Mapping[int, On]
    change: float
    everywhere: bool

    key: str = ON
    unit: str = ""


def candidates(board: Board, states: Sequence[On]) -> Iterator[Candidate]:
    """Yield the figures of a board that count in some state, each with values to try.

    Parameters
    ----------
    board : as it is measured
    states : what is on in each recording
    """
    for name, owner in owners(board):
        unheard = unheard_keys(owner, board.instrument)
        for key, spec in specs(type(owner)).items():
            written = None if spec.exact else _written(owner, key, spec)
            if written is None or (key in unheard and getattr(owner, key)):
                continue
            values = tried(key, spec, written)
            if values.size > 1 and _counts(owner, key, values, states):
                yield Candidate(
                    _called(name, owner, board), key, _unit(spec), owner, spec, written, values
                )


def _written(owner: Declared, key: str, spec: Spec) -> float | None:
    """Return the figure of a file, None for what is no figure or is not there."""
    value = getattr(owner, key)
    if isinstance(owner, Cable) and key == "length" and owner.lays is not None:
        return None  # it follows from the layout
    if value is None:
        return np.inf if key == "input_resistance" else None
    if spec.kind not in KINDS or isinstance(value, bool | str):
        return None
    return float(value)


def _unit(spec: Spec) -> str:
    return KINDS[spec.kind].symbol


def _called(place: str, owner: Declared, board: Board) -> str:
    """Return the name of a thing: a kind of cable goes by its own."""
    if isinstance(owner, CableSpec):
        return next((name for name, spec in board.cables.items() if spec is owner), place)
    return place


def _counts(owner: Declared, key: str, values: FloatArray, states: Sequence[On]) -> bool:
    """Whether a figure of an item changes anything of it as it stands in some state."""
    if not isinstance(owner, Item) or isinstance(owner, Cable | Tap):
        return True
    jw = angular(_PROBED_HZ)
    changed = Rebuilt({id(owner): {key: values[[0, -1], None]}}).of(owner)
    with np.errstate(all="ignore"):
        return any(
            _differ(owner.step(jw, on).drive(_source()), changed.step(jw, on).drive(_source()))
            for on in {owner.switch is None or owner.switch in state for state in states}
        )


def _source() -> Source:
    return Source(1.0, _PROBED_FROM)


def _differ(one: Source, other: Source) -> bool:
    pairs: tuple[tuple[Any, Any], ...] = ((one.E, other.E), (one.Z, other.Z))
    return any(bool(np.any(np.abs(b - a) > _SAME * np.abs(a))) for a, b in pairs)


def switched(board: Board, states: Sequence[On]) -> Iterator[Switched]:
    """Yield every switch that may have stood otherwise: in all recordings, or in one of them.

    Parameters
    ----------
    board : as it is measured
    states : what is on in each recording
    """
    for name in board.switches():
        for is_on in (False, True):
            where = [number for number, on in enumerate(states) if (name in on) == is_on]
            change = -1.0 if is_on else 1.0
            if where:
                yield Switched(name, {n: flipped(states[n], name) for n in where}, change, True)
            if len(where) > 1:
                for n in where:
                    yield Switched(name, {n: flipped(states[n], name)}, change, False)


def flipped(on: On, name: str) -> frozenset[str]:
    """Return a state with one switch the other way."""
    return frozenset(on) ^ {name}
