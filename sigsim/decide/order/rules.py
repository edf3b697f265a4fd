"""What an order has to obey: asked as one question, and whether an order does."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from sigsim.board import edit
from sigsim.board.inside import board_of_place
from sigsim.decide.buffer.views import ALL_STATES, View
from sigsim.decide.order.constraints import Level, constraints
from sigsim.decide.order.contradiction import contradiction
from sigsim.decide.order.laid_out import with_even_runs
from sigsim.decide.order.question import Constraint, Question
from sigsim.decide.order.stuck import Stuck, stuck
from sigsim.errors import SigsimError, UnknownNameError, quote, shown_path
from sigsim.items.loop import Loop

if TYPE_CHECKING:
    from sigsim.board.edit import Place
    from sigsim.board.model import Board
    from sigsim.decide.order.question import Order
    from sigsim.items.stage import ActiveStage

__all__ = ["Stuck", "broken", "contradiction", "level_of", "question", "stuck"]


def question(
    board: Board,
    level: Place = (),
    views: Sequence[View] = (ALL_STATES,),
    *,
    mean: bool = False,
    buffer: ActiveStage | None = None,
) -> Question:
    """Return what is asked of the order of one level.

    Parameters
    ----------
    board : as the file has it
    level : the place of the loop whose inside is ordered, empty for the chain itself
    views : over what the loss is taken
    mean : whether the loss is the weighted mean of the views, not the worst of them
    buffer : one more box, always on, to be placed at the same time; None for none
    """
    here = Level(board, level)
    asked = tuple(constraints(here, buffer))
    laid = None if board.laying is None else board
    if laid is not None:
        loop = edit.item_at(board, level).label if level else ""
        board = with_even_runs(board, [box.name for box in here.boxes], loop, buffer)
        here = Level(board, level)
    return Question(board, level, here.boxes, asked, tuple(views), mean, buffer, laid)


def level_of(board: Board, loop: str) -> Place:
    """Return the place of a loop, whose inside is a level.

    Raises
    ------
    UnknownNameError : the board has no loop of this name
    SigsimError : a board of its own file is inside, which is ordered there
    """
    loops = {item.loop: (p, item) for p, item in edit.places(board) if isinstance(item, Loop)}
    if loop not in loops:
        error = UnknownNameError("loop", loop, tuple(loops), where=board.file)
        if loop in board.item_names():
            raise SigsimError(
                "this is no loop, and only a loop has an order inside",
                where=board.file,
                found=quote(loop),
                accepted=error.problem.accepted,
            )
        raise error
    place, _ = loops[loop]
    held = board_of_place(board, (*place, 0))
    if held is not None:
        # It is called by its way from the board's folder, and a command needs it from here.
        folder, slash, _ = board.file.rpartition("/")
        raise SigsimError(
            "a board of its own is inside this loop, and is ordered in its own file",
            where=board.file,
            found=quote(loop),
            accepted=f"sigsim order {shown_path(folder + slash + held.file)}",
        )
    return place


def broken(question: Question, order: Order) -> tuple[Constraint, ...]:
    """Return what an order breaks, in the order of the file.

    Parameters
    ----------
    question : what is asked
    order : the numbers of the boxes; with that of the buffer, or without it. A fixed place counts
        the boxes of the file alone
    """
    return tuple(_broken(question, order))


def _broken(question: Question, order: Order) -> Iterator[Constraint]:
    at = {box: place for place, box in enumerate(order)}
    boxes = [box for box in order if box < len(question.boxes)]
    for one in question.constraints:
        if one.rule == "fixed":
            if boxes.index(one.first) != one.second:
                yield one
        elif one.first in at and one.second in at and at[one.first] > at[one.second]:
            yield one
