"""How long a battery lasts: what its outputs get from it over what they give."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sigsim.decide.power.question import Range

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.decide.power.question import Drain, Outlet
    from sigsim.items.supply import Supply

    Loaded = tuple[Outlet, float, tuple[Drain, ...]]


@dataclass(frozen=True)
class Hours:
    """How long a supply runs on its battery.

    Attributes
    ----------
    supply : with a battery
    energy : that its outputs get from it [Wh]
    power : that they give with everything on [W]
    everything : with everything on [h], None where nothing known is on it
    scenes : by scene, where some draw less when off; else empty
    unknown : those on it whose current is not known, so that the hours are at most so many
    guess : whether a guess is in it
    """

    supply: Supply
    energy: float
    power: Range
    everything: Range | None
    scenes: dict[str, Range | None]
    unknown: tuple[str, ...]
    guess: bool


def hours(board: Board, loaded: Sequence[Loaded]) -> Iterator[Hours]:
    """Yield how long each supply with a battery runs on it.

    Parameters
    ----------
    board : the board
    loaded : each output with the voltage that it gives [V] and what is on it
    """
    for supply in board.supplies.values():
        energy = supply.energy
        if energy is None:
            continue
        mine = [(volts, d) for on, volts, drains in loaded if on.supply is supply for d in drains]
        states = {}
        if any(drain.off is not None for _, drain in mine):
            states = {scene: _power(mine, board.scene(scene).on) for scene in board.scenes}
        whole = _power(mine, None)
        yield Hours(
            supply,
            energy,
            whole,
            _lasting(energy, whole),
            {scene: _lasting(energy, power) for scene, power in states.items()},
            tuple(drain.name for _, drain in mine if drain.draws is None),
            any(drain.guess for _, drain in mine),
        )


def _power(on: Sequence[tuple[float, Drain]], switched: Collection[str] | None) -> Range:
    """Return what is given [W] with these switched on, None for all."""
    low = high = 0.0
    for volts, drain in on:
        draws = drain.draws or Range(0.0, 0.0)
        is_off = switched is not None and drain.switch is not None and drain.switch not in switched
        if is_off and drain.off is not None:
            draws = Range(drain.off, drain.off)
        low, high = low + volts * draws.low, high + volts * draws.high
    return Range(low, high)


def _lasting(energy: float, power: Range) -> Range | None:
    return Range(energy / power.high, energy / power.low) if power.low > 0 else None
