"""The chain as the boxes that the page of a report draws."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from sigsim.items.cable import Cable
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.items.tap import Tap
from sigsim.physics.arrays import scalar
from sigsim.quantities import length_text
from sigsim.show.render.text import plain
from sigsim.units import render

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from sigsim.board.model import Board
    from sigsim.decide.page.coefficients import Coefficients
    from sigsim.items.base import Item
    from sigsim.show.page.pool import Pool

_NAME: Final = 80


def machine(board: Board, found: Coefficients, pool: Pool) -> dict[str, Any]:
    """Return the chain, and the steps from which any state follows."""
    numbers: dict[Any, int] = {}
    table: list[Any] = []
    known: dict[str, int] = {}
    for key, step in found.steps.items():
        four = [pool.add(part) for part in step]
        if str(four) not in known:
            known[str(four)] = len(table)
            table.append(four)
        numbers[key] = known[str(four)]
    lead = board.lead
    return {
        "steps": table,
        "start": [pool.add(part) for part in found.start],
        "load": pool.add(found.load),
        "direct": [] if lead is None else [numbers[id(lead), True]],
        "chain": Boxes(board, numbers, {k: pool.add(Y) for k, Y in found.inputs.items()}).boxes(
            board.chain
        ),
    }


class Boxes:
    """The chain as the page draws it.

    Parameters
    ----------
    board : the board
    steps : the number of every item's step by its identity and position, None without any
    inputs : what ends the load of a split, by the identity of the item and its position
    """

    def __init__(
        self,
        board: Board,
        steps: Mapping[Any, int] | None = None,
        inputs: Mapping[Any, Any] | None = None,
    ) -> None:
        self.steps, self.inputs = steps, inputs or {}
        self.switches = {name: i for i, name in enumerate(board.switches())}

    def boxes(self, items: Sequence[Item]) -> list[dict[str, Any]]:
        """Return one entry for each item."""
        return [self._box(item) for item in items]

    def _box(self, item: Item) -> dict[str, Any]:
        box: dict[str, Any] = _named(item)
        if item.switch is not None:
            box["s"] = self.switches[item.switch]
        if self.steps is not None:
            for on, key, kept in ((True, "on", "ion"), (False, "off", "ioff")):
                if (id(item), on) in self.steps:
                    box[key] = self.steps[id(item), on]
                    box[kept] = item.in_ideal(on)
                if (id(item), on) in self.inputs:
                    box[f"y{key}"] = self.inputs[id(item), on]
        if isinstance(item, Cable) and item.is_lead:
            box["lead"] = True
        if isinstance(item, Split):
            box["turned"] = item.turned
            box["end"] = plain(item.destination.name, _NAME)
        if isinstance(item, Loop | Split):
            box["inside"] = self.boxes(item.inside)
        return box


def _named(item: Item) -> dict[str, Any]:
    if isinstance(item, Cable):
        name = f"{plain(item.cable, 24)} {length_text(scalar(item.length))}"
        return {"kind": "cable", "name": name}
    if isinstance(item, Tap):
        end = "open end"
        if item.input_resistance is not None:
            end = render(scalar(item.input_resistance), "Ω")
        length = length_text(item.cable.length)
        return {"kind": "tap", "name": f"side cable {plain(item.tap, 40)}: {length}, {end}"}
    if isinstance(item, Split):
        return {"kind": "split", "name": plain(item.split, _NAME)}
    return {"kind": "box", "name": plain(item.label, _NAME)}
