"""An order with the boxes where they stand: the cables are as long as the layout makes them.

While an order is searched for, each cable between boxes of the level counts alike; see `evened`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from sigsim.board.edit import inserted
from sigsim.board.relaid import evened
from sigsim.decide.moves import is_laid_out
from sigsim.layout.model import Socket

if TYPE_CHECKING:
    from sigsim.board.edit import Place
    from sigsim.board.model import Board
    from sigsim.decide.order.question import Order, Question
    from sigsim.items.stage import ActiveStage


def with_even_runs(
    board: Board, names: Sequence[str], loop: str, buffer: ActiveStage | None
) -> Board:
    """Return the board in which each cable between two boxes of a level is as long as any other.

    Parameters
    ----------
    board : as the file has it
    names : of the boxes
    loop : around them, empty for the chain itself
    buffer : that may stand between any two of them
    """
    new = () if buffer is None else (buffer.stage,)
    sockets = {Socket(n, "in") for n in (*names, *new)} | {Socket(n, "out") for n in (*names, *new)}
    if loop:
        sockets |= {Socket(loop, "send"), Socket(loop, "return")}
    return evened(board, frozenset(sockets))


def laid_out(question: Question, order: Order, gap: int | None = None) -> Board | None:
    """Return the board in an order with the boxes where they stand.

    A buffer that is put in stands nowhere yet: the cables on both of its sides are as long as the
    one that was there.

    Parameters
    ----------
    question : whose boxes they are
    order : the numbers of the boxes
    gap : where the buffer stands, as for `ordered_board`; None for where the loss is least

    Returns
    -------
    the board; None without a layout, and where that cannot give all lengths
    """
    from sigsim.decide.order.applied import best_gap, ordered_board

    if question.laid is None:
        return None
    new = len(question.boxes)
    own = tuple(number for number in order if number < new)
    board = ordered_board(replace(question, board=question.laid, buffer=None), own)
    if question.buffer is not None and new in order:
        gap = best_gap(question, order) if gap is None else gap
        board = inserted(board, buffer_place(question, order, gap), question.buffer)
    return board if is_laid_out(board) else None


def buffer_place(question: Question, order: Order, gap: int | None = None) -> Place:
    """Return the place of the buffer in an order, among the items of its level as it is then."""
    from sigsim.board.edit import siblings
    from sigsim.decide.order.applied import ordered_board

    items = siblings(ordered_board(question, order, gap), (*question.level, 0))
    index = next(i for i, item in enumerate(items) if item is question.buffer)
    return (*question.level, index)


def laid_out_loss(question: Question, order: Order) -> float | None:
    """Return the treble loss [dB] of an order with the boxes where they stand, None for none."""
    from sigsim.decide.order.report import loss_in

    board = laid_out(question, order)
    if board is None:
        return None
    loss = loss_in(question, board)
    return None if math.isnan(loss) else loss
