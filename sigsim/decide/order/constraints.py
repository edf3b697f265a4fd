"""What the boxes of a level have to obey: what is written at them, and that the pickup is seen."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

from sigsim.board import edit
from sigsim.board.standing import parting, split_around, standing
from sigsim.decide.moves import parted, with_siblings, woven
from sigsim.decide.order.question import Box, Constraint
from sigsim.decide.pickup import has_pickup, hides, powered_places
from sigsim.items.base import CUSTOM, Placed, Stage
from sigsim.items.loop import Loop
from sigsim.items.split import Split

if TYPE_CHECKING:
    from sigsim.board.edit import Place
    from sigsim.board.model import Board
    from sigsim.decide.order.question import Order, Rule
    from sigsim.items.base import Item
    from sigsim.items.stage import ActiveStage

_RANKS: Final = {role: rank for rank, role in enumerate(CUSTOM)}


class Level:
    """The boxes of one level of a board, and what of it belongs to which.

    Parameters
    ----------
    board : the board
    place : of the loop or split that it is inside of, empty for the chain

    Attributes
    ----------
    items : of the level, as the file lists them
    boxes : in the order of the file
    """

    def __init__(self, board: Board, place: Place) -> None:
        self.board, self.place = board, place
        self.items = edit.siblings(board, (*place, 0))
        boxes, slots = parted(self.items)
        self.boxes = tuple(
            Box(number, item, tuple(hanging), ranks(item))
            for number, (item, *hanging) in enumerate(boxes)
        )
        self._owners: list[int | None] = []
        self._before: list[int] = []
        number = 0
        for slot in slots:
            width = 1 if slot is not None else len(boxes[number])
            self._owners += [number if slot is None else None] * width
            self._before += [number] * width
            number += slot is None

    def ordered(self, order: Order) -> Board:
        """Return the board with these boxes in another order; what stays between them stays."""
        boxes, slots = parted(self.items)
        made = woven([boxes[number] for number in order], slots)
        return with_siblings(self.board, (*self.place, 0), made)

    def owner(self, place: Place) -> int | None:
        """Return the number of the box that a place is in or hangs on, None for what stays."""
        return self._owners[place[len(self.place)]]

    def before(self, place: Place) -> int:
        """Return how many boxes come before the item of this level that a place is in."""
        return self._before[place[len(self.place)]]

    def holds(self, place: Place) -> bool:
        """Return whether a place is in this level, or in a loop or split of it."""
        return len(place) > len(self.place) and place[: len(self.place)] == self.place


def ranks(item: Item) -> tuple[int, ...]:
    """Return the places in the custom of the stages of a box that have one."""
    return tuple(_RANKS[stage.role] for stage in _stages(item) if stage.role in _RANKS)


def _stages(item: Item) -> Iterator[Stage]:
    if isinstance(item, Stage):
        yield item
    elif isinstance(item, Loop | Split):
        for inner in item.inside:
            yield from _stages(inner)


def constraints(level: Level, buffer: ActiveStage | None = None) -> Iterator[Constraint]:
    """Yield what an order of a level has to obey, in the order of the file.

    Parameters
    ----------
    level : the level
    buffer : one more box, its number that behind the last box; None for none
    """
    places = standing(level.board.listed)
    hiding = list(_hiding(level))
    for place in places.values():
        item = edit.item_at(level.board, place)
        if level.holds(place) and isinstance(item, Placed):
            yield from _for_pickup(level, place, item, hiding, buffer)
            yield from _written(level, place, item, places)


def _written(
    level: Level, place: Place, item: Placed, places: dict[str, Place]
) -> Iterator[Constraint]:
    """Yield what is written at a box."""
    rules: tuple[tuple[Rule, tuple[str, ...]], ...] = (
        ("before", item.before),
        ("after", item.after),
    )
    for rule, names in rules:
        for name in names:
            parts = parting(place, places[name]) if name in places else None
            if parts is None or parts.level != level.place:
                continue
            ends = level.owner(place), level.owner(places[name])
            first, second = ends if rule == "before" else ends[::-1]
            if first is not None and second is not None:
                yield Constraint(rule, item.label, name, first, second)
    number = level.owner(place)
    if item.fixed and len(place) == len(level.place) + 1 and number is not None:
        yield Constraint("fixed", item.label, "", number, number)


def _hiding(level: Level) -> Iterator[tuple[Place, ActiveStage]]:
    """Yield what hides the pickup from what comes behind it on this level, on no other way."""
    for place, stage in powered_places(level.board):
        elsewhere = split_around(level.board.listed, place, len(level.place))
        if level.holds(place) and hides(stage) and not elsewhere:
            yield place, stage


def _for_pickup(
    level: Level,
    place: Place,
    item: Placed,
    hiding: list[tuple[Place, ActiveStage]],
    buffer: ActiveStage | None,
) -> Iterator[Constraint]:
    """Yield what a stage that wants to see the pickup comes before.

    Something in a split that stays where it is: what is before it now comes before all that hides
    the pickup and is behind it now, so that none of this comes before it.
    """
    if not getattr(item, "needs_pickup", False) or not has_pickup(level.board):
        return
    number, count = level.owner(place), level.before(place)
    ahead = [number] if number is not None else list(range(count))
    for where, other in hiding:
        behind = level.owner(where)
        if behind is None or behind == number or (number is None and behind < count):
            continue
        for first in ahead:
            yield Constraint("needs_pickup", item.label, other.stage, first, behind)
    if buffer is not None:
        for first in ahead:
            yield Constraint("needs_pickup", item.label, buffer.stage, first, len(level.boxes))
