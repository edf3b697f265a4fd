"""What else would do a buffer's job: pedals that are there already, changed or moved."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sigsim import metrics
from sigsim.board import edit
from sigsim.decide.buffer.bound import LeastLoss
from sigsim.decide.buffer.gaps import first_wanting_pickup
from sigsim.decide.buffer.level import LevelBeside
from sigsim.decide.buffer.report import LEAST_GAIN_DB
from sigsim.decide.buffer.views import View, loss_over
from sigsim.decide.limits import MOST_MOVES
from sigsim.decide.moves import along
from sigsim.decide.order.obeyed import broken_by
from sigsim.decide.pickup import has_pickup, hides_more, on_way, steady, wanting
from sigsim.items.cable import Cable
from sigsim.items.split import Split
from sigsim.items.stage import ActiveStage
from sigsim.items.tap import Tap

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.decide.buffer.gaps import Gap


@dataclass(frozen=True)
class Instead:
    """One change to what is already on the board.

    Attributes
    ----------
    change : "buffered bypass" for a stage that gets one, "moved" for a buffered stage moved
    stage : its name
    gap : where it is moved to, between its new neighbours; None if it stays
    loss : the treble loss then [dB]
    level_change : what it does to the level at 100 Hz in the state that is worst now [dB]
    """

    change: str
    stage: str
    gap: Gap | None
    loss: float
    level_change: float


@dataclass(frozen=True)
class _Change:
    """A changed board."""

    board: Board
    change: str
    stage: str
    gap: Gap | None


def instead_of_buffer(
    board: Board, views: Sequence[View], *, ignore_pickup: bool = False
) -> tuple[Instead, ...]:
    """Return what could be changed instead of adding a buffer, the best first.

    Parameters
    ----------
    board : the board
    views : over what the loss is taken
    ignore_pickup : whether stages that want to see the pickup are passed over

    Returns
    -------
    only what gains treble, and hides the pickup from no stage that wants to see it
    """
    ignore = ignore_pickup or not (has_pickup(board) and wanting(board))
    level = LevelBeside(board, views)
    now, least = level.loss, LeastLoss(board, views, level.states)
    groups = [[change] for change in _given_buffers(board, ignore)]
    groups += [list(changes) for changes in _moved(board, ignore)]
    found = []
    for changes in groups:
        wanted, best = now - LEAST_GAIN_DB, None
        for bound, number in sorted((least.of(c.board), i) for i, c in enumerate(changes)):
            if bound > wanted:
                break
            loss = loss_over(changes[number].board, views)
            if loss <= wanted and (best is None or loss < best[0]):
                wanted, best = loss, (loss, changes[number])
        if best is not None:
            loss, c = best
            change = level.change(c.board)
            # Nobody wants it softer by more than the treble that it gains.
            if not change < -max(now - loss, metrics.LEVEL_SAID_DB):
                found.append(Instead(c.change, c.stage, c.gap, loss, change))
    return tuple(sorted(found, key=lambda instead: instead.loss))


def _given_buffers(board: Board, ignore_pickup: bool) -> Iterator[_Change]:
    """Give each stage without one a buffered bypass, unless one behind it wants the pickup."""
    stages = [(p, item) for p, item in edit.places(board) if isinstance(item, ActiveStage)]
    for number, (place, stage) in enumerate(stages):
        later = (s for where, s in stages[number + 1 :] if on_way(board, place, where))
        hides = any(stage.needs_pickup for stage in later)
        if stage.always_on or stage.bypass == "buffered" or (hides and not ignore_pickup):
            continue
        changed = edit.with_values(board, place, {"bypass": "buffered"}, {})
        yield _Change(changed, "buffered bypass", stage.stage, None)


def _moved(board: Board, ignore_pickup: bool) -> Iterator[Iterator[_Change]]:
    """Move each stage that isolates even when it is off to its other places in the chain.

    Of a long chain only the first of them, nearest to the instrument: what is behind an isolator
    hangs on its output, where the wiring takes little.
    """
    boxes = [(i, s) for i, s in enumerate(board.listed) if isinstance(s, ActiveStage) and steady(s)]
    places = sum(not isinstance(item, Cable | Tap | Split) for item in board.listed)
    for index, stage in boxes[: max(1, MOST_MOVES // max(1, places))]:
        yield _moves(board, index, stage, ignore_pickup)


def _moves(board: Board, index: int, stage: ActiveStage, ignore_pickup: bool) -> Iterator[_Change]:
    """Yield the places at which a stage neither hides the pickup nor has it hidden anew.

    None where another order would break what is written at the boxes.
    """
    for move in along(board, (index,)):
        behind = first_wanting_pickup(move.board.listed[move.gap.index + 1 :])
        seen = ignore_pickup or (behind is None and not hides_more(move.board, board))
        if seen and not broken_by(move.board, board):
            yield _Change(move.board, "moved", stage.stage, move.gap)
