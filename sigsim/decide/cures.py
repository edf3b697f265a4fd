"""What lets a stage see the pickup that something always hides from it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.board import edit
from sigsim.board.relaid import with_put
from sigsim.decide.buffer.level import LevelBeside
from sigsim.decide.buffer.report import LEAST_GAIN_DB
from sigsim.decide.buffer.views import ALL_STATES, View, loss_over
from sigsim.decide.moves import along, elsewhere, is_laid_out, with_siblings
from sigsim.decide.order.constraints import Level, constraints
from sigsim.decide.order.feasible import nearest_order
from sigsim.decide.order.obeyed import broken_by
from sigsim.decide.pickup import Hidden, hidden_pickups, hides_more, powered_places
from sigsim.items.loop import Loop
from sigsim.items.split import Split

if TYPE_CHECKING:
    from sigsim.board.edit import Place
    from sigsim.board.model import Board
    from sigsim.decide.buffer.gaps import Gap
    from sigsim.decide.order.obeyed import Demand
    from sigsim.items.stage import ActiveStage

# So many places are tried of each kind, those nearest to where the stage stands.
_MOST_TRIED: Final = 12
# On levels of more boxes no whole order is looked for: it takes the square of them, and more.
_MOST_ORDERED: Final = 64


@dataclass(frozen=True)
class Cure:
    """One change after which nothing always hides the pickup from a stage.

    Attributes
    ----------
    change : "moved", "order" for all boxes of a level in another order, "true bypass", or "loop"
        for a switched loop around what hides it
    boxes : what is moved, the boxes in that order, or what gets the true bypass or the loop
    gap : where it is moved to, None if it stays
    hidden_while : what still stands between while it is on; empty if the pickup is seen always
    loss : the treble loss then [dB]
    level_change : what it does to the level at 100 Hz [dB]
    breaks : what is written at the boxes and no longer holds then
    """

    change: str
    boxes: tuple[str, ...]
    gap: Gap | None
    hidden_while: tuple[str, ...]
    loss: float
    level_change: float
    breaks: tuple[Demand, ...] = ()


@dataclass(frozen=True)
class Remedy:
    """A stage that never sees the pickup it wants to see, and what cures that.

    Attributes
    ----------
    hidden : the stage and what stands between
    now : the treble loss of the board as it is [dB]
    cures : the best of each kind, those first after which it sees the pickup in every state; what
        breaks something that is written at the boxes only where all of them do
    spoilt : where there is none: the stages from which every change would hide the pickup
    loop : the switched loop that cures it, where nothing else does without breaking anything
    """

    hidden: Hidden
    now: float
    cures: tuple[Cure, ...]
    spoilt: tuple[str, ...]
    loop: Cure | None = None


@dataclass(frozen=True)
class _Change:
    """A changed board, and the kind of which one is told."""

    board: Board
    change: str
    boxes: tuple[str, ...]
    gap: Gap | None
    breaks: tuple[Demand, ...] = ()

    @property
    def kind(self) -> tuple[str, str]:
        return self.change, self.gap.loop if self.gap is not None else ""


def remedies(board: Board, views: Sequence[View] = (ALL_STATES,)) -> tuple[Remedy, ...]:
    """Return what cures each stage from which the pickup is always hidden.

    Parameters
    ----------
    board : the board
    views : over what the treble loss is taken
    """
    hidden = [one for one in hidden_pickups(board) if one.always]
    if not hidden:
        return ()
    level = LevelBeside(board, views)
    return tuple(_remedy(board, one, views, level) for one in hidden)


def remedy_of(board: Board, hidden: Hidden, views: Sequence[View] = (ALL_STATES,)) -> Remedy:
    """Return what cures one stage from which the pickup is hidden, in some states only too.

    Parameters
    ----------
    board : the board
    hidden : the stage, and what stands between; one of `hidden_pickups`
    views : over what the treble loss is taken
    """
    return _remedy(board, hidden, views, LevelBeside(board, views))


def _remedy(board: Board, hidden: Hidden, views: Sequence[View], level: LevelBeside) -> Remedy:
    spoilt: dict[str, None] = {}
    found = list(_curing(board, hidden, _changes(board, hidden), spoilt))
    obeying = [change for change in found if not change.breaks]
    if not any(change.change == "moved" for change in obeying):
        obeying += _curing(board, hidden, _orders(board, hidden), spoilt)
    tried: dict[tuple[str, str, bool], list[_Change]] = {}
    for change in obeying or found:
        always = not _hidden_while(change.board, hidden.stage)
        tried.setdefault((*change.kind, always), []).append(change)
    cures = [_best_of(hidden, changes, views, level) for changes in tried.values()]
    cures.sort(key=lambda cure: (bool(cure.hidden_while), np.nan_to_num(cure.loss, nan=math.inf)))
    looped = () if obeying else _curing(board, hidden, _looped(board, hidden), spoilt)
    loop = next((_best_of(hidden, [change], views, level) for change in looped), None)
    return Remedy(hidden, level.loss, tuple(cures), () if cures else tuple(spoilt), loop)


def _curing(
    board: Board, hidden: Hidden, changes: Iterable[_Change], spoilt: dict[str, None]
) -> Iterator[_Change]:
    """Yield those of some changes that cure a stage, and note which others they would spoil."""
    for change in changes:
        if not _cured(change.board, hidden):
            continue
        worse = hides_more(change.board, board)
        spoilt.update(dict.fromkeys(worse))
        if not worse:
            # A loop around a box stands where that did.
            breaks = () if change.change == "loop" else broken_by(change.board, board)
            yield replace(change, breaks=breaks)


def _best_of(
    hidden: Hidden, changes: Sequence[_Change], views: Sequence[View], level: LevelBeside
) -> Cure:
    """Return the best of several changes of one kind."""
    # The last ones are the nearest.
    nearest = changes[-_MOST_TRIED:]
    losses = [loss_over(change.board, views) for change in nearest]
    return _best(hidden, nearest, losses, level)


def _cured(board: Board, hidden: Hidden) -> bool:
    """Return whether nothing always hides the pickup; not in some states if it is only those."""
    return not any(
        now.stage == hidden.stage and (now.always or not hidden.always)
        for now in hidden_pickups(board)
    )


def _hidden_while(board: Board, stage: str) -> tuple[str, ...]:
    """Return what stands between a stage and the pickup while it is on."""
    return next((h.sometimes for h in hidden_pickups(board) if h.stage == stage), ())


def _changes(board: Board, hidden: Hidden) -> Iterator[_Change]:
    """Yield what could be done: the stage or a loop around it moved, true bypass before it."""
    place = next(p for p, stage in powered_places(board) if stage.stage == hidden.stage)
    for depth in range(1, len(place) + 1):
        box = edit.item_at(board, place[:depth])
        if not isinstance(box, Split):
            for move in along(board, place[:depth]):
                yield _Change(move.board, "moved", (box.label,), move.gap)
    for move in elsewhere(board, place):
        yield _Change(move.board, "moved", (hidden.stage,), move.gap)
    between = _between(board, hidden)
    if not between or any(stage.always_on for _, stage in between):
        return
    changed = board
    for where, _ in between:
        changed = _with_true_bypass(changed, where)
    yield _Change(changed, "true bypass", hidden.always, None)


def _between(board: Board, hidden: Hidden) -> list[tuple[Place, ActiveStage]]:
    return [(p, stage) for p, stage in powered_places(board) if stage.stage in hidden.always]


def _orders(board: Board, hidden: Hidden) -> Iterator[_Change]:
    """Yield an order of each level around a stage that obeys all that is asked of it."""
    place = next(p for p, stage in powered_places(board) if stage.stage == hidden.stage)
    for depth in range(len(place)):
        level = Level(board, place[:depth])
        if len(level.boxes) > _MOST_ORDERED:
            continue
        order = nearest_order(len(level.boxes), list(constraints(level)))
        made = None if order is None else level.ordered(order)
        if order is not None and made is not None and is_laid_out(made):
            boxes = tuple(level.boxes[number].name for number in order)
            yield _Change(made, "order", boxes, None)


def _looped(board: Board, hidden: Hidden) -> Iterator[_Change]:
    """Yield the board with a switched loop around each thing that always hides the pickup."""
    between = _between(board, hidden)
    changed, boxes = board, []
    for place, stage in between:
        loop = Loop(loop=edit.free_name(changed, "send"), inside=(stage,))
        items = edit.siblings(changed, place)
        items = (*items[: place[-1]], loop, *items[place[-1] + 1 :])
        made = with_siblings(changed, place, items)
        changed = with_put(changed, made, loop.loop, [loop.loop])
        boxes.append(stage.stage)
    if boxes:
        yield _Change(changed, "loop", tuple(boxes), None)


def _with_true_bypass(board: Board, place: Place) -> Board:
    return edit.with_values(board, place, {"bypass": "true"}, {})


def _best(
    hidden: Hidden, changes: Sequence[_Change], losses: Sequence[float], level: LevelBeside
) -> Cure:
    """Return the change that leaves the least loss; among equal ones the nearest."""
    least = min((loss for loss in losses if math.isfinite(loss)), default=math.nan)
    equal = [
        i for i, loss in enumerate(losses) if math.isnan(least) or loss < least + LEAST_GAIN_DB
    ]
    change, loss = changes[equal[-1]], losses[equal[-1]]
    return Cure(
        change.change,
        change.boxes,
        change.gap,
        _hidden_while(change.board, hidden.stage),
        loss,
        level.change(change.board),
        change.breaks,
    )
