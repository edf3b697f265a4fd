"""The gaps of a chain, of its loops and of its splits in which a box could stand."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, cast

from sigsim.board import edit
from sigsim.board.ends import ends, place_of_end
from sigsim.board.relaid import is_joined
from sigsim.decide.pickup import has_pickup
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.items.stage import ActiveStage
from sigsim.items.tap import Tap

if TYPE_CHECKING:
    from sigsim.board.edit import Place
    from sigsim.board.model import Board
    from sigsim.items.base import Item


@dataclass(frozen=True)
class Gap:
    """A place between two neighbours of the chain, of a loop or of a split, as the file lists it.

    Attributes
    ----------
    place : of a box put there
    after : what it follows, None at the very start
    before : what it precedes, None at the very end
    forbidden_by : the stage behind it that wants to see the pickup, None if there is none
    loop : the loop it is inside of, empty for none
    way : the end to which only it leads, empty where that is the end one listens at
    """

    place: Place
    after: Item | None
    before: Item | None
    forbidden_by: str | None
    loop: str = ""
    way: str = ""

    @property
    def index(self) -> int:
        """How many items of its list come before it: the chain, or a loop's or split's inside."""
        return self.place[-1]


def gaps(board: Board) -> tuple[Gap, ...]:
    """Return the gaps on the way to the end where one listens, loops taken as one.

    The instrument's own lead stays with the instrument: there is no gap before it.
    """
    return _behind_lead(board, (gap for gap in _every(board) if _on_way(board, gap)))


def gaps_elsewhere(board: Board) -> tuple[Gap, ...]:
    """Return the other gaps, in the order of the chain: inside loops, and on other ways."""
    return _behind_lead(board, (gap for gap in _every(board) if not _on_way(board, gap)))


def gap_at(board: Board, place: Place) -> Gap:
    """Return the gap before what is at a place."""
    at = _all_of(board)
    for index in place[:-1]:
        at = at.inside(index)
    return _named(board, at.at(place[-1]))


def is_place(board: Board, gap: Gap) -> bool:
    """Return whether a box has its place in a gap.

    Behind the last cable it has none: without a cable behind it nothing leads to the destination,
    nor to the end where one listens. Nor between two loops that one box joins itself.
    """
    items = edit.siblings(board, gap.place)
    if is_joined(board, items[: gap.index], items[gap.index :]):
        return False
    behind = items[gap.index :]
    in_loop = len(gap.place) > 1 and isinstance(edit.item_at(board, gap.place[:-1]), Loop)
    return in_loop or any(_goes_on(item, board.at) for item in behind)


def _goes_on(item: Item, at: str) -> bool:
    """Whether the signal has a way through an item; through a split to the end in it alone."""
    if not isinstance(item, Split):
        return not isinstance(item, Tap)
    leads = item.split == at or any(split.split == at for split in ends(item.inside))
    return leads and any(_goes_on(inner, at) for inner in item.inside)


def _on_way(board: Board, gap: Gap) -> bool:
    """Whether the way to the end passes a gap whatever is on: not where it is inside a loop."""
    end = place_of_end(board.listed, board.at)
    depth = len(gap.place) - 1
    if depth > len(end) or gap.place[:depth] != end[:depth]:
        return False
    around = (edit.item_at(board, end[: n + 1]) for n in range(depth))
    before = depth == len(end) or gap.place[depth] <= end[depth]
    return before and not any(isinstance(group, Loop) for group in around)


def _behind_lead(board: Board, found: Iterator[Gap]) -> tuple[Gap, ...]:
    """Return gaps, allowed everywhere where there is no pickup to see."""
    lead = board.lead_place
    kept = (gap for gap in found if lead is None or gap.place > lead)
    if has_pickup(board):
        return tuple(kept)
    return tuple(replace(gap, forbidden_by=None) for gap in kept)


def _every(board: Board) -> Iterator[Gap]:
    for gap in _all_of(board).all():
        yield _named(board, gap)


def _all_of(board: Board) -> _Gaps:
    way = board.destination.name if board.at else ""
    return _Gaps(board.with_lead(), (), None, "", ("", way))


def _named(board: Board, gap: Gap) -> Gap:
    """Return a gap with no way named where that leads to the end one listens at."""
    return replace(gap, way="") if gap.way == board.at else gap


@dataclass(frozen=True)
class _Gaps:
    """The gaps of one list of items, and of the loops and splits in it.

    Attributes
    ----------
    items : as the file lists them
    above : the place of the loop or split that they are inside of
    wanting : what wants to see the pickup behind all of them
    loop : that they are inside of
    ways : the end to which only the items before the last fork lead, and those behind it
    """

    items: Sequence[Item]
    above: Place
    wanting: str | None
    loop: str
    ways: tuple[str, str]

    def all(self) -> Iterator[Gap]:
        for index in range(len(self.items) + 1):
            yield self.at(index)
        for index, group in enumerate(self.items):
            if isinstance(group, Loop | Split):
                yield from self.inside(index).all()

    def at(self, index: int) -> Gap:
        """Return the gap before one of the items, or behind all of them."""
        return Gap(
            (*self.above, index),
            self.items[index - 1] if index else None,
            self.items[index] if index < len(self.items) else None,
            self._wanting(index),
            self.loop,
            self._way(index),
        )

    def inside(self, index: int) -> _Gaps:
        """Return the gaps inside a loop or split."""
        group, here = self.items[index], (*self.above, index)
        if isinstance(group, Loop):
            ways = self._way(index), self.ways[1]
            return _Gaps(group.inside, here, self._wanting(index + 1), group.label, ways)
        split = cast(Split, group)
        return _Gaps(split.inside, here, None, "", (split.label, split.label))

    def _wanting(self, index: int) -> str | None:
        return first_wanting_pickup(self.items[index:]) or self.wanting

    def _way(self, index: int) -> str:
        return self.ways[not any(_leads_on(item) for item in self.items[index:])]


def _leads_on(item: Item) -> bool:
    """Whether the ways part at an item or in it."""
    return isinstance(item, Split) or (
        isinstance(item, Loop) and any(_leads_on(inner) for inner in item.inside)
    )


def first_wanting_pickup(items: Sequence[Item]) -> str | None:
    """Return the first of the items that wants to see the pickup, those inside others as well."""
    for item in items:
        if isinstance(item, ActiveStage) and item.needs_pickup:
            return item.stage
        if isinstance(item, Loop | Split) and (found := first_wanting_pickup(item.inside)):
            return found
    return None
