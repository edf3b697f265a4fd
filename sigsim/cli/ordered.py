"""The search for an order as a command runs it, and the board written in another order."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

from sigsim import stopping
from sigsim.board import edit, edit_file
from sigsim.board.put_in import put_in, stands_nowhere
from sigsim.board.reader import parse_board
from sigsim.board.reorder_file import reordered
from sigsim.cli.copied import Written
from sigsim.cli.options import unfit
from sigsim.cli.output import write_file
from sigsim.cli.progress import Latest
from sigsim.decide.order.applied import ordered_board
from sigsim.decide.order.laid_out import buffer_place
from sigsim.decide.order.report import loss_in
from sigsim.decide.order.search import search
from sigsim.errors import SigsimError, shown_path
from sigsim.items.cable import Cable
from sigsim.show.order_words import arrows
from sigsim.show.render.text import decibel, plain
from sigsim.text import escaped

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.decide.order.clock import Progress
    from sigsim.decide.order.question import Found, Question
    from sigsim.decide.order.report import OrderReport, Proposed

# So far may the loss of the file that is written be from the one that is printed [dB].
_SAME_DB: Final = 1e-6
_REMARK: Final = "put in by sigsim order"


def search_for(question: Question, top: int, seconds: float) -> Callable[[], Found]:
    """Return the search: it says how it stands, and the keyboard ends it."""

    def find() -> Found:
        latest = Latest()
        try:
            with stopping.patient():
                return search(
                    question,
                    top=top,
                    seconds=seconds,
                    stop=stopping.was_noted,
                    progress=lambda now: latest(lambda: _standing(now)),
                )
        finally:
            latest.finish()

    return find


def interrupted() -> bool:
    """Whether the keyboard ended the search."""
    return stopping.was_noted()


def _standing(now: Progress) -> str:
    best = "no order found yet" if now.best is None else f"best so far {decibel(now.best.loss)} dB"
    bound = f", no order is under {decibel(now.bound)} dB" if math.isfinite(now.bound) else ""
    return f"{now.seconds:.0f} s: {best}{bound}"


def check_pick(pick: int | None, write: str | None) -> None:
    """Refuse the number of an order where nothing is written.

    Raises
    ------
    SigsimError : there is a number and no file
    """
    if pick is not None and write is None:
        what = "an order is chosen for the file that is written"
        raise unfit("--pick", pick, what, f"--write FILE --pick {pick}")


def write_ordered(
    report: OrderReport, source: str, path: str, pick: int | None, force: bool
) -> Written:
    """Write the board with its text in another order, if that is worth it or chosen.

    Parameters
    ----------
    report : from `order_report`
    source : the text of the board file
    path : of the file
    pick : the number of the order, None for the advised one
    force : whether an existing file may be overwritten

    Raises
    ------
    SigsimError : there is no order of that number, or the text cannot be moved
    OutputError : the file exists and `force` is not set, or it cannot be written
    """
    why = _why_not(report, pick)
    if why:
        more = "; --pick N writes one all the same" if why == _FINE else ""
        return Written(
            f"Not written: {shown_path(path)}, because {why}{more}.",
            {"file": None, "number": None, "order": [], "why_not": why},
        )
    chosen = report.advised if pick is None else _numbered(report, pick)
    assert chosen is not None, "without a reason not to, there is an order"
    text = _text(report, source, chosen)
    _check(report, text, path, chosen)
    write_file(path, text, force)
    loop = f" inside '{plain(report.loop, 30)}'" if report.loop else ""
    new = report.question.buffer
    nowhere = "" if new is None else stands_nowhere(report.board, [new.stage])
    return Written(
        f"Written: {shown_path(path)}, this board with {arrows(chosen.names)}{loop}.{nowhere}",
        {"file": path, "number": chosen.number, "order": list(chosen.names), "why_not": None},
    )


_FINE: Final = "the order is fine as it is"


def _why_not(report: OrderReport, pick: int | None) -> str:
    """Return why nothing is written, empty where something is."""
    if report.interrupted:
        return "the search was stopped"
    if report.contradiction:
        return "no order obeys all that the file asks"
    if report.without_place:
        return "the buffer has no place"
    if pick is None and report.advised is None:
        return _FINE if report.proposed else "there are too few boxes"
    return ""


def _numbered(report: OrderReport, number: int) -> Proposed:
    # Those of the ranking, and those that the tables show.
    shown = [one for one in report.proposed if one in report.ranking or one.told]
    found = next((one for one in shown if one.number == number), None)
    if found is None:
        numbers = ", ".join(str(one.number) for one in shown)
        what = "there is no order of this number"
        accepted = f"{numbers}; --top N lists more" if shown else "no order at all"
        raise unfit("--pick", number, what, accepted)
    return found


def _text(report: OrderReport, text: str, chosen: Proposed) -> str:
    """Return the board file in an order, with its buffer and a title of its own."""
    question, order = report.question, chosen.ordered.order
    boxes = len(question.boxes)
    own = tuple(number for number in order if number < boxes)
    buffer = question.buffer
    if own == tuple(range(boxes)) and buffer is None:
        return text
    text = reordered(text, question.level, own)
    if buffer is not None:
        keys = {"stage": buffer.stage, "part": buffer.part, "always_on": True}
        board = ordered_board(replace(question, board=report.board, buffer=None), own)
        text = put_in(text, board, buffer_place(question, order), buffer, keys, _REMARK)
    return edit_file.titled(text, _title(report, own))


def _title(report: OrderReport, own: tuple[int, ...]) -> str:
    board = report.question.board
    title = board.title or escaped(Path(board.file).stem)
    where = f" inside {report.loop}" if report.loop else ""
    news = [f"in another order{where}"] if own != tuple(range(len(own))) else []
    news += [f"with a buffer{where if not news else ''}"] if report.question.buffer else []
    for new in news:
        title = title if title.endswith(new) else f"{title}, {new}"
    return title


def _check(report: OrderReport, text: str, path: str, chosen: Proposed) -> None:
    """Read what is about to be written, and see whether it is what was computed.

    Raises
    ------
    SigsimError : it is not
    """
    question = report.question
    wanted = ordered_board(question, chosen.ordered.order)
    read = _read(text, path, wanted)
    loss = loss_in(question, read)
    printed = chosen.laid_out if report.has_layout else chosen.ordered.loss
    same = printed is not None and (loss == printed or abs(loss - printed) <= _SAME_DB)
    # Beside a buffer that stands nowhere yet, cables are named that the layout had measured.
    named = report.has_layout and question.buffer is not None
    alike = _boxes(read) == _boxes(wanted) if named else read.listed == wanted.listed
    if not (alike and same):
        raise SigsimError(
            "the file in this order would not be the board that was computed, so it is not written",
            where=shown_path(path),
        )


def _boxes(board: Board) -> list[str]:
    return [item.label for _, item in edit.places(board) if not isinstance(item, Cable)]


def _read(text: str, path: str, wanted: Board) -> Board:
    return parse_board(text, path).heard_at(wanted.at)
