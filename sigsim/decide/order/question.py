"""What is asked of an order: the boxes of one level, and what must stand before what."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

if TYPE_CHECKING:
    from sigsim.board.edit import Place
    from sigsim.board.model import Board
    from sigsim.decide.buffer.views import View
    from sigsim.items.base import Item
    from sigsim.items.stage import ActiveStage

# An order of boxes by their numbers in the file, from the instrument on; a buffer that is put in
# is the number behind the last of them.
Order: TypeAlias = tuple[int, ...]
Rule: TypeAlias = Literal["needs_pickup", "before", "after", "fixed"]


@dataclass(frozen=True)
class Box:
    """What moves as one: a stage or a whole loop, with the taps and splits that hang on it.

    Attributes
    ----------
    number : among the boxes of its level, from 0, as the file has them
    item : the stage or loop
    hanging : what hangs on its output and travels with it
    ranks : the places in the custom of the stages in it that have one
    """

    number: int
    item: Item
    hanging: tuple[Item, ...]
    ranks: tuple[int, ...]

    @property
    def name(self) -> str:
        """The stage's or loop's name."""
        return self.item.label


@dataclass(frozen=True)
class Constraint:
    """One thing that an order has to obey.

    Attributes
    ----------
    rule : what it comes from
    stage : at which it is written
    other : the stage it is about: what would stand in the way of the pickup, what it stands before
        or after; empty for a fixed place
    first, second : the numbers of the boxes of which the first stands before the second; for a
        fixed place the box, and its place among the boxes from 0
    """

    rule: Rule
    stage: str
    other: str
    first: int
    second: int


@dataclass(frozen=True)
class Question:
    """The boxes of one level and all that is asked of their order.

    Attributes
    ----------
    board : as the file has it
    level : the place of the loop whose inside is ordered, empty for the chain itself
    boxes : in the order of the file
    constraints : that every order obeys
    views : over what the loss is taken: all states, or some scenes
    mean : whether the loss is the weighted mean of the views, not the worst of them
    buffer : one more box, always on, to be placed at the same time; None for none
    laid : the board with its boxes where they stand, if that says how long cables are; in `board`
        those between the boxes of the level are then alike. None without a layout
    """

    board: Board
    level: Place
    boxes: tuple[Box, ...]
    constraints: tuple[Constraint, ...]
    views: tuple[View, ...]
    mean: bool = False
    buffer: ActiveStage | None = None
    laid: Board | None = None


@dataclass(frozen=True)
class Ordered:
    """One order, and what it amounts to.

    Attributes
    ----------
    order : the numbers of the boxes
    loss : the treble loss [dB]: of the worst state, of the worst scene, or the weighted mean
    worst : what is on in the state that is the worst; with a mean, in the worst of the scenes
    custom : how many pairs of boxes with a role stand against the custom
    turned : how many pairs stand the other way round than in the file
    """

    order: Order
    loss: float
    worst: tuple[str, ...]
    custom: int
    turned: int


@dataclass(frozen=True)
class Found:
    """What a search for the best orders found.

    Attributes
    ----------
    now : the order of the file, which may break a constraint
    orders : by the ranking; empty where no order obeys all constraints
    customary : the best that has no more pairs against the custom than the file, None for none
    moved : the best orders that one box, and two boxes, moved away; None where there is none
    proven : whether the loss of the first is the least there is, to 0.01 dB
    ranking_proven : whether the first is proven to be the first of the ranking
    bound : what no order is below [dB]; the loss of the first where it is proven
    tried : how many orders, or beginnings of orders, were looked at
    groups : the longest runs of neighbours in the first order that may be swapped freely
    """

    now: Ordered
    orders: tuple[Ordered, ...]
    customary: Ordered | None
    moved: Mapping[int, Ordered]
    proven: bool
    ranking_proven: bool
    bound: float
    tried: int
    groups: tuple[Order, ...]
