"""Which stages want to see the pickup, and what stands between.

Before such a stage may stand passive things, a stage whose role is a tuner and that is passive when
off (on, it mutes), and boxes that want to see the pickup themselves and are passive when off. A
loop counts as what is in it. An active instrument has no pickup to see: the demand is dropped.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from sigsim.board.edit import item_at
from sigsim.items.instrument import PassiveInstrument
from sigsim.items.loop import Loop
from sigsim.items.split import Split
from sigsim.items.stage import ActiveStage

if TYPE_CHECKING:
    from sigsim.board.edit import Place
    from sigsim.board.model import Board
    from sigsim.items.base import Item

_TUNER: Final = "tuner"


@dataclass(frozen=True)
class Hidden:
    """A stage that wants to see the pickup and does not in all states.

    Attributes
    ----------
    stage : its name
    always : what stands between in every state in which it is heard
    sometimes : what stands between only while it is on, or while the loop around it is in
    """

    stage: str
    always: tuple[str, ...]
    sometimes: tuple[str, ...]


def steady(stage: ActiveStage) -> bool:
    """Return whether a stage isolates even when it is off."""
    return stage.always_on or stage.isolates(False)


def hides(stage: ActiveStage) -> bool:
    """Return whether a stage hides the pickup from those behind it, in some states at least."""
    return steady(stage) or not (stage.needs_pickup or stage.role == _TUNER)


def powered_places(board: Board) -> Iterator[tuple[Place, ActiveStage]]:
    """Yield the powered stages with their places, in the order in which the signal meets them."""
    yield from _powered(board.listed, ())


def _powered(items: Sequence[Item], way: Place) -> Iterator[tuple[Place, ActiveStage]]:
    for index, item in enumerate(items):
        if isinstance(item, Loop | Split):
            yield from _powered(item.inside, (*way, index))
        elif isinstance(item, ActiveStage):
            yield (*way, index), item


def wanting(board: Board) -> tuple[str, ...]:
    """Return the names of the stages that want to see the pickup, whether they can or not."""
    return tuple(stage.stage for _, stage in powered_places(board) if stage.needs_pickup)


def has_pickup(board: Board) -> bool:
    """Return whether there is a pickup to see."""
    return isinstance(board.instrument, PassiveInstrument)


def hidden_pickups(board: Board) -> tuple[Hidden, ...]:
    """Return the stages that want to see the pickup and do not in all states."""
    if not has_pickup(board):
        return ()
    stages = list(powered_places(board))
    found = (
        _hidden(place, stage, [one for one in stages[:number] if on_way(board, one[0], place)])
        for number, (place, stage) in enumerate(stages)
        if stage.needs_pickup
    )
    return tuple(hidden for hidden in found if hidden.always or hidden.sometimes)


def on_way(board: Board, where: Place, place: Place) -> bool:
    """Return whether an earlier place is on the way to a later one, not in another split."""
    around = range(1, len(where))
    return all(
        place[:depth] == where[:depth]
        for depth in around
        if isinstance(item_at(board, where[:depth]), Split)
    )


def _hidden(
    place: Place, stage: ActiveStage, before: Sequence[tuple[Place, ActiveStage]]
) -> Hidden:
    always, sometimes = [], []
    for where, other in before:
        # Every loop around the other one is in whenever the stage itself is heard.
        beside = place[: len(where) - 1] == where[:-1]
        if beside and steady(other):
            always.append(other.stage)
        elif hides(other):
            sometimes.append(other.stage)
    return Hidden(stage.stage, tuple(always), tuple(sometimes))


def hides_more(board: Board, than: Board) -> tuple[str, ...]:
    """Return the stages that see the pickup less well on one board than on another."""
    was = {hidden.stage: hidden for hidden in hidden_pickups(than)}
    return tuple(h.stage for h in hidden_pickups(board) if _worse(h, was.get(h.stage)))


def _worse(now: Hidden, was: Hidden | None) -> bool:
    if was is None:
        return True
    between = {*was.always, *was.sometimes}
    return not ({*now.always} <= {*was.always} and {*now.always, *now.sometimes} <= between)
