"""What else would do a buffer's job: pedals that are there already, changed or moved."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sigsim.board import edit
from sigsim.decide.buffer.gaps import Gap, gaps
from sigsim.decide.buffer.report import View, loss_over
from sigsim.decide.limits import MOST_MOVES
from sigsim.items.stage import ActiveStage

if TYPE_CHECKING:
    from sigsim.board.model import Board


@dataclass(frozen=True)
class Instead:
    """One change to what is already on the board.

    Attributes
    ----------
    change : "buffered bypass" for a stage that gets one, "moved" for a buffered stage moved
    stage : its name
    gap : where it is moved to, in the chain without it; None if it stays
    loss : the treble loss then [dB]
    """

    change: str
    stage: str
    gap: Gap | None
    loss: float


def instead_of_buffer(
    board: Board, views: Sequence[View], *, ignore_pickup: bool = False
) -> tuple[Instead, ...]:
    """Return what could be changed instead of adding a buffer, the best first.

    Parameters
    ----------
    board : the board
    views : over what the loss is taken
    ignore_pickup : whether stages that want to see the pickup are passed over
    """
    found = [*_given_buffers(board, views, ignore_pickup), *_moved(board, views, ignore_pickup)]
    return tuple(sorted(found, key=lambda instead: instead.loss))


def _given_buffers(board: Board, views: Sequence[View], ignore_pickup: bool) -> Iterator[Instead]:
    """Give each stage without one a buffered bypass, unless one behind it wants the pickup."""
    stages = [(p, item) for p, item in edit.places(board) if isinstance(item, ActiveStage)]
    for number, (place, stage) in enumerate(stages):
        hides = any(later.needs_pickup for _, later in stages[number + 1 :])
        if stage.always_on or stage.bypass == "buffered" or (hides and not ignore_pickup):
            continue
        changed = edit.with_values(board, place, {"bypass": "buffered"}, {})
        yield Instead("buffered bypass", stage.stage, None, loss_over(changed, views))


def _moved(board: Board, views: Sequence[View], ignore_pickup: bool) -> Iterator[Instead]:
    """Move each stage that isolates even when it is off to its best other place.

    Of a long chain only the first of them, nearest to the instrument: what is behind an isolator
    hangs on its output, where the wiring takes little.
    """
    tried = 0
    for index, stage in enumerate(board.listed):
        steady = isinstance(stage, ActiveStage) and (stage.isolates(False) or stage.always_on)
        if not isinstance(stage, ActiveStage) or not steady or len(board.listed) == 1:
            continue
        if (tried := tried + len(board.listed)) > max(MOST_MOVES, len(board.listed)):
            return
        rest = edit.taken_out(board, (index,))
        options = []
        for gap in gaps(rest):
            before = rest.listed[: gap.index]
            hidden = stage.needs_pickup and any(isinstance(item, ActiveStage) for item in before)
            if gap.index == index or ((gap.forbidden_by or hidden) and not ignore_pickup):
                continue
            loss = loss_over(edit.inserted(rest, gap.place, stage), views)
            options.append(Instead("moved", stage.stage, gap, loss))
        if options:
            yield min(options, key=lambda option: option.loss)
