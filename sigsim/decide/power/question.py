"""What is to be fed, and by what: plain figures from a board."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

from sigsim.board.supplied import common, meant, suits
from sigsim.items.feeding import Fed
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.items.stage import ActiveStage

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.items.base import Item
    from sigsim.items.supply import Output, Supply


class Range(NamedTuple):
    """From and to, one value where both are the same."""

    low: float
    high: float


@dataclass(frozen=True)
class Drain:
    """What draws a current.

    Attributes
    ----------
    name : of the stage or box
    fed : as the file has it; where a guess stands for its current, with that
    draws : when on [A], None where it is not known
    off : when off [A], None where that is as when on
    switch : by which it is switched, None if it is always on
    guess : whether its current is only what such a box usually draws
    """

    name: str
    fed: Fed
    draws: Range | None
    off: float | None = None
    switch: str | None = None
    guess: bool = False

    @property
    def needs(self) -> Range | None:
        """The current that an output has to give [A], on or off; None where none is known."""
        off = self.off or 0.0
        return None if self.draws is None else Range(*(max(on, off) for on in self.draws))

    @property
    def load(self) -> float:
        """The current that is reckoned with [A], 0 where none is known."""
        return 0.0 if self.needs is None else self.needs.high


@dataclass(frozen=True)
class Outlet:
    """One output of a supply on the board."""

    supply: Supply
    index: int

    @property
    def output(self) -> Output:
        """What it gives."""
        return self.supply.outputs[self.index]

    @property
    def name(self) -> str:
        """What it is called: the supply and its number."""
        return self.supply.output_name(self.index)

    def refuses(self, drain: Drain) -> str:
        """Return why it cannot feed a thing, even alone; empty where it can."""
        return suits(drain.fed, self.supply, self.output)


@dataclass(frozen=True)
class PowerQuestion:
    """All that is to be fed, and all that there is.

    Attributes
    ----------
    drains : in the order of the file
    outlets : in the order of the file
    written : for each drain the outlets that the file allows it, None for any
    """

    drains: tuple[Drain, ...]
    outlets: tuple[Outlet, ...]
    written: tuple[frozenset[int] | None, ...]

    def allowed(self, drain: int) -> list[int]:
        """Return the outlets that the file allows a drain and that can feed it alone."""
        written = self.written[drain]
        return [
            index
            for index, outlet in enumerate(self.outlets)
            if (written is None or index in written) and not outlet.refuses(self.drains[drain])
        ]

    def turned(self, drain: int, outlet: int) -> bool:
        """Whether a lead that reverses the plug is needed."""
        return self.drains[drain].fed.polarity != self.outlets[outlet].output.polarity

    def voltages(self, outlet: int, drains: Sequence[int]) -> tuple[float, ...]:
        """Return the voltages [V] that an outlet and all on it can, the lowest first."""
        own = self.outlets[outlet].output.voltage
        return common([own, *(self.drains[drain].fed.voltage for drain in drains)])


def power_question(board: Board, *, guess: bool) -> PowerQuestion:
    """Return what a board's own file has to be fed, and its supplies.

    Parameters
    ----------
    board : the board
    guess : whether what such a box usually draws stands for a current that is not told
    """
    drains = tuple(_drains(board, guess=guess))
    outlets = tuple(
        Outlet(supply, index)
        for supply in board.supplies.values()
        for index in range(len(supply.outputs))
    )
    written = tuple(_written(board, drain.fed.supply, outlets) for drain in drains)
    return PowerQuestion(drains, outlets, written)


def own_stages(board: Board) -> Iterator[ActiveStage]:
    """Yield the powered stages of a board's own file, not those of boards inside it."""
    yield from _powered(board.listed)


def _powered(items: Sequence[Item]) -> Iterator[ActiveStage]:
    for item in items:
        if isinstance(item, ActiveStage):
            yield item
        elif isinstance(item, Split) or (isinstance(item, Loop) and not item.board):
            yield from _powered(item.inside)


def _drains(board: Board, *, guess: bool) -> Iterator[Drain]:
    for stage in own_stages(board):
        if stage.battery_inside:
            continue
        name, current, usual = stage.label, stage.current, stage.usual_current
        off, switch = stage.current_off, stage.switch
        if current is not None:
            yield Drain(name, stage, Range(current, current), off, switch)
        elif guess and usual is not None:
            guessed = replace(stage, current=usual[1])
            yield Drain(name, guessed, Range(*usual), off, switch, guess=True)
        else:
            yield Drain(name, stage, None, off, switch)
    for name, box in board.boxes.items():
        draws = None if box.current is None else Range(box.current, box.current)
        yield Drain(name, box, draws)


def _written(board: Board, supply: str, outlets: Sequence[Outlet]) -> frozenset[int] | None:
    found = meant(board.supplies, supply) if supply else None
    if found is None:
        return None
    meant_supply, index = found
    return frozenset(
        place
        for place, outlet in enumerate(outlets)
        if outlet.supply is meant_supply and index in (None, outlet.index)
    )
