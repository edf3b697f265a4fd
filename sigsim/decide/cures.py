"""What lets a stage see the pickup that something always hides from it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from sigsim.board import edit
from sigsim.decide.buffer.level import LevelBeside
from sigsim.decide.buffer.report import LEAST_GAIN_DB
from sigsim.decide.buffer.views import ALL_STATES, View, loss_over
from sigsim.decide.moves import along, elsewhere
from sigsim.decide.pickup import Hidden, hidden_pickups, hides_more, powered_places
from sigsim.items.split import Split

if TYPE_CHECKING:
    from sigsim.board.edit import Place
    from sigsim.board.model import Board
    from sigsim.decide.buffer.gaps import Gap

# So many places are tried of each kind, those nearest to where the stage stands.
_MOST_TRIED: Final = 12


@dataclass(frozen=True)
class Cure:
    """One change after which nothing always hides the pickup from a stage.

    Attributes
    ----------
    change : "moved" or "true bypass"
    boxes : what is moved or gets the true bypass
    gap : where it is moved to, None if it stays
    hidden_while : what still stands between while it is on; empty if the pickup is seen always
    loss : the treble loss then [dB]
    level_change : what it does to the level at 100 Hz [dB]
    """

    change: str
    boxes: tuple[str, ...]
    gap: Gap | None
    hidden_while: tuple[str, ...]
    loss: float
    level_change: float


@dataclass(frozen=True)
class Remedy:
    """A stage that never sees the pickup it wants to see, and what cures that.

    Attributes
    ----------
    hidden : the stage and what stands between
    now : the treble loss of the board as it is [dB]
    cures : the best of each kind, those first after which it sees the pickup in every state
    spoilt : where there is none: the stages from which every change would hide the pickup
    """

    hidden: Hidden
    now: float
    cures: tuple[Cure, ...]
    spoilt: tuple[str, ...]


@dataclass(frozen=True)
class _Change:
    """A changed board, and the kind of which one is told."""

    board: Board
    change: str
    boxes: tuple[str, ...]
    gap: Gap | None

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


def _remedy(board: Board, hidden: Hidden, views: Sequence[View], level: LevelBeside) -> Remedy:
    tried: dict[tuple[str, str, bool], list[_Change]] = {}
    spoilt: dict[str, None] = {}
    for change in _changes(board, hidden):
        if not _cured(change.board, hidden.stage):
            continue
        worse = hides_more(change.board, board)
        spoilt.update(dict.fromkeys(worse))
        if not worse:
            always = not _hidden_while(change.board, hidden.stage)
            tried.setdefault((*change.kind, always), []).append(change)
    cures = []
    for changes in tried.values():
        # The last ones are the nearest.
        nearest = changes[-_MOST_TRIED:]
        losses = [loss_over(change.board, views) for change in nearest]
        cures.append(_best(hidden, nearest, losses, level))
    cures.sort(key=lambda cure: (bool(cure.hidden_while), np.nan_to_num(cure.loss, nan=math.inf)))
    return Remedy(hidden, level.loss, tuple(cures), () if cures else tuple(spoilt))


def _cured(board: Board, stage: str) -> bool:
    return not any(h.stage == stage and h.always for h in hidden_pickups(board))


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
    between = [(p, s) for p, s in powered_places(board) if s.stage in hidden.always]
    if any(stage.always_on for _, stage in between):
        return
    changed = board
    for where, _ in between:
        changed = _with_true_bypass(changed, where)
    yield _Change(changed, "true bypass", hidden.always, None)


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
    )
