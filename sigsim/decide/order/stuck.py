"""Stages that see the pickup in no order of their level, why, and what else lets them see it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sigsim.board.standing import parting
from sigsim.decide.cures import Remedy, remedy_of
from sigsim.decide.order.constraints import Level, constraints
from sigsim.decide.order.contradiction import smallest
from sigsim.decide.order.feasible import order_of
from sigsim.decide.pickup import has_pickup, hidden_pickups, hides, on_way, powered_places

if TYPE_CHECKING:
    from sigsim.board.edit import Place
    from sigsim.decide.order.question import Constraint, Question


@dataclass(frozen=True)
class Stuck:
    """A stage that sees the pickup it wants to see in no order of its level.

    Attributes
    ----------
    stage : its name
    between : what stands in its way
    because : the smallest set of constraints that keeps it there, its own among them; empty where
        it is no order that does
    dropping : those of them that are written at boxes and without any one of which there is an
        order that obeys the others
    remedy : what cures it, with its reasons where nothing does; None where it sees the pickup in
        the order of the file, which breaks something else
    """

    stage: str
    between: tuple[str, ...]
    because: tuple[Constraint, ...]
    dropping: tuple[Constraint, ...]
    remedy: Remedy | None


def stuck(question: Question) -> tuple[Stuck, ...]:
    """Return the stages that see the pickup in no order of a level, in the order of the file."""
    board = question.board
    if not has_pickup(board):
        return ()
    level = Level(board, question.level)
    hidden = {one.stage: one for one in hidden_pickups(board)}
    found = []
    for place, stage in powered_places(board):
        if not (stage.needs_pickup and level.holds(place)):
            continue
        between = list(_unmoved(level, place))
        because, dropping = _kept(level, place, stage.stage)
        between += [one.other for one in because if _for_pickup(one, stage.stage)]
        if between:
            mine = hidden.get(stage.stage)
            remedy = None if mine is None else remedy_of(board, mine, question.views)
            names = tuple(dict.fromkeys(between))
            found.append(Stuck(stage.stage, names, because, dropping, remedy))
    return tuple(found)


def _for_pickup(one: Constraint, stage: str) -> bool:
    return one.rule == "needs_pickup" and one.stage == stage


def _unmoved(level: Level, place: Place) -> Iterator[str]:
    """Yield what hides the pickup from a stage and stands before it in any order of its level."""
    board = level.board
    for where, other in powered_places(board):
        if where == place:
            return
        if not (hides(other) and on_way(board, where, place)):
            continue
        parts = parting(place, where)
        assert parts is not None, "no stage is inside another"
        beside = Level(board, parts.level)
        owner = beside.owner(place)
        if not level.holds(where) or owner in (None, beside.owner(where)):
            yield other.stage


def _kept(
    outermost: Level, place: Place, stage: str
) -> tuple[tuple[Constraint, ...], tuple[Constraint, ...]]:
    """Return the fewest constraints that keep the pickup from a stage, and which to drop."""
    for depth in range(len(outermost.place), len(place)):
        level = Level(outermost.board, place[:depth])
        count, asked = len(level.boxes), list(constraints(level))
        if not any(_for_pickup(one, stage) for one in asked):
            continue
        alone = [one for one in asked if one.rule != "needs_pickup" or one.stage == stage]
        if order_of(count, [one for one in alone if one.rule != "needs_pickup"]) is None:
            continue  # what is written contradicts itself, whatever wants the pickup
        for given in (alone, asked):
            because = smallest(count, given)
            if any(_for_pickup(one, stage) for one in because):
                return because, tuple(_dropped(count, given, because))
    return (), ()


def _dropped(
    count: int, given: Sequence[Constraint], because: Sequence[Constraint]
) -> Iterator[Constraint]:
    """Yield what is written at a box and without which there is an order."""
    for one in because:
        if one.rule != "needs_pickup":
            rest = [other for other in given if other is not one]
            if order_of(count, rest) is not None:
                yield one
