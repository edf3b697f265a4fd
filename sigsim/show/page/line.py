"""The chain as the page computes with it and draws it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from sigsim.decide.page.report import MOST_ITEMS
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.show.page.things import Thing, things

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.decide.page.board import PageBoard
    from sigsim.decide.page.coefficients import Coefficients
    from sigsim.items.base import Item
    from sigsim.show.page.pool import Pool


def line(made: PageBoard, pool: Pool) -> dict[str, Any]:
    """Return the things on the line, and all that any state is computed from."""
    board, found = made.board, made.coefficients
    chain = things(board)
    if found is None:
        return {"chain": _Line(board).items(_most(chain), board.chain)}
    steps, table = _table(found, pool)
    inputs = {key: pool.add(Y) for key, Y in found.inputs.items()}
    lead = board.lead
    return {
        "steps": table,
        "start": [pool.add(part) for part in found.start],
        "load": pool.add(found.load),
        "direct": [] if lead is None else [steps[id(lead), True]],
        "chain": _Line(board, steps, inputs).items(chain, board.chain),
    }


def _most(chain: Sequence[Thing]) -> Sequence[Thing]:
    """Return no more of a chain than a page can show."""
    left = len(chain) - MOST_ITEMS
    if left <= 0:
        return chain
    more = {"kind": "joint", "key": "more", "name": f"{left:,} more"}
    return (*chain[:MOST_ITEMS], Thing(more, joint=True))


def _table(
    found: Coefficients, pool: Pool
) -> tuple[dict[tuple[int, bool], int], list[list[int | list[float]]]]:
    """Return the number of every step, and the steps with each different one once."""
    numbers: dict[tuple[int, bool], int] = {}
    table: list[list[int | list[float]]] = []
    known: dict[str, int] = {}
    for key, step in found.steps.items():
        four = [pool.add(part) for part in step]
        if str(four) not in known:
            known[str(four)] = len(table)
            table.append(four)
        numbers[key] = known[str(four)]
    return numbers, table


class _Line:
    """Makes the page's items.

    Parameters
    ----------
    board : the board
    steps : the number of every item's step by its identity and position, None without any
    inputs : the admittances that end a segment, by the identity of the item and its position
    """

    def __init__(
        self,
        board: Board,
        steps: dict[tuple[int, bool], int] | None = None,
        inputs: dict[tuple[int, bool], int | list[float]] | None = None,
    ) -> None:
        self.steps, self.inputs = steps, inputs or {}
        self.switches = {name: i for i, name in enumerate(board.switches())}

    def items(self, things: Sequence[Thing], items: Sequence[Item]) -> list[dict[str, Any]]:
        """Return one entry for each thing; `items` are those of them that are no joints."""
        rest = iter(items)
        return [self._joint(t) if t.joint else self._item(t, next(rest)) for t in things]

    def _joint(self, thing: Thing) -> dict[str, Any]:
        return dict(thing.about)

    def _item(self, thing: Thing, item: Item) -> dict[str, Any]:
        made = dict(thing.about)
        if item.switch is not None:
            made["s"] = self.switches[item.switch]
        for on in (True, False):
            made.update(self._position(item, on))
        if isinstance(item, Loop | Split):
            made["inside"] = self.items(thing.inside, item.inside)
        return made

    def _position(self, item: Item, on: bool) -> Iterator[tuple[str, Any]]:
        key, kept, input_ = ("on", "ion", "yon") if on else ("off", "ioff", "yoff")
        if self.steps is None:
            # Curves are stored; that it isolates is still drawn.
            if not isinstance(item, Split) and item.isolates(on):
                yield input_, [0.0, 0.0]
            return
        if (id(item), on) in self.steps:
            yield key, self.steps[id(item), on]
            yield kept, item.in_ideal(on)
        if (id(item), on) in self.inputs:
            yield input_, self.inputs[id(item), on]
