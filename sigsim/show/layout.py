"""Where things stand and how long the cables are, as a document."""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING, Final

from sigsim.metrics import verdict
from sigsim.show import kinds
from sigsim.show.document import Column, Document, Heading, Paragraph, Table
from sigsim.show.ends import changed, ended, placed, why_silent
from sigsim.show.kinds import Kind
from sigsim.show.layout_problems import problems
from sigsim.show.layout_words import end_name, length_of, remark
from sigsim.show.lengths import length_text, sum_of
from sigsim.show.render.text import count, decibel, plain
from sigsim.text import escaped_json

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from sigsim.board.model import Board
    from sigsim.decide.layout.proposal import Proposal
    from sigsim.decide.layout.report import LayoutReport, Run
    from sigsim.decide.layout.shopping import Pieces, Stock
    from sigsim.decide.loss.report import StateReport
    from sigsim.show.document import Block, Row

TITLE: Final = "Where things stand"
_MOST_CUT: Final = 4
# Of a line that is to be pasted [letters].
_WIDEST: Final = 78
_LENGTH: Final = Kind(
    lambda v: "-" if v is None or v < 0 else length_text(v),
    data=lambda v: None if v is None else float(v),
)
_END: Final = kinds.names(24, 40)
_CABLE: Final = kinds.names(14, 24)
RUNS: Final = (
    Column("No", kinds.COUNT, key="number", rank=0),
    Column("From", _END, key="from"),
    Column("To", _END, key="to"),
    Column("Cable", _CABLE, key="cable", rank=6),
    Column("Run", _LENGTH, key="run_m", rank=0),
    Column("Take", _LENGTH, key="length_m", rank=0),
    Column("Left", _LENGTH, "Left over", key="left_over_m", rank=0),
    Column("", kinds.WORD, key="remark", rank=0),
)
_SHOPPING: Final = (
    Column("Cable", kinds.names(24, 40), key="cable", once=True),
    Column("Pieces", kinds.COUNT, key="count"),
    Column("Length", _LENGTH, key="length_m"),
    Column("", kinds.PHRASE, key="remark"),
)


def document(
    reports: Sequence[LayoutReport], bought: Sequence[Stock], tried: Sequence[Proposal]
) -> Document:
    """Return the answer: of each board its runs and what is wrong, and one shopping list.

    Parameters
    ----------
    reports : one for each board
    bought : what to buy for all of them
    tried : rows that were looked for, one for each board or none
    """
    blocks: list[Block] = []
    for index, report in enumerate(reports):
        if len(reports) > 1:
            blocks.append(Heading(plain(report.board.name, 70)))
        blocks.append(Paragraph((sentence(report),)))
        blocks += [runs_table(report), *problems(report)]
        if tried:
            blocks += _proposed(tried[index])
    blocks += shopping_blocks(bought, boards=len(reports))
    return Document(TITLE, tuple(blocks))


def sentence(report: LayoutReport) -> str:
    """Return the first sentence: what is wrong, or else how much cable lies there and its cost."""
    wrong = list(_wrong(report))
    laid = [one for one in report.runs if one.run is not None]
    if not laid:
        said = "No cable runs between two boxes that stand somewhere"
    else:
        together = length_text(report.total)
        run = f"a run of {together}" if len(laid) == 1 else f"runs of {together} in all"
        said = f"{count(len(laid), 'cable')} with {run}"
    said += f"; {loss_said(report.board, report.worst)}"
    first = f"{_capital(', '.join(wrong))}. " if wrong else ""
    return placed(changed(report.board), ended(f"{first}{said}"))


def _wrong(report: LayoutReport) -> Iterator[str]:
    if lacking := len(report.lacking):
        yield f"{count(lacking, 'connection')} {'has' if lacking == 1 else 'have'} no length"
    if short := len(report.short):
        yield f"{count(short, 'cable')} {'is' if short == 1 else 'are'} too short"
    if pairs := sum(len(one.overlaps) for one in report.standing):
        yield f"{count(pairs, 'pair')} of boxes {'stands' if pairs == 1 else 'stand'} in each other"
    names = {over.name for one in report.standing for over in one.overhangs}
    if names:
        hang = "hangs" if len(names) == 1 else "hang"
        yield f"{count(len(names), 'box', 'boxes')} {hang} over the edge"


def loss_said(board: Board, worst: StateReport | None) -> str:
    """Return what the board loses at worst, or why that cannot be told."""
    if worst is None:
        return "without all lengths no loss can be told"
    if math.isnan(worst.treble_loss):
        return f"nothing comes out: {why_silent(board, ())}"
    word = verdict(worst.treble_loss)
    return f"at worst {decibel(worst.treble_loss)} dB of treble are lost ({word})"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def runs_table(report: LayoutReport) -> Table:
    """Return every cable with its run, the length to take and what is left over."""
    rows: list[Row] = [run_row(one) for one in report.runs]
    return Table("Every cable", RUNS, rows, captioned=False)


def run_row(one: Run) -> Row:
    """Return the row of one cable in the table of runs."""
    ends = end_name(one.link.connection.begin), end_name(one.link.connection.end)
    left = one.left_over
    return (
        one.link.number,
        *ends,
        one.link.cable.cable,
        one.run,
        length_of(one),
        left if one.too_short or left is None else max(left, 0.0),
        remark(one),
    )


def _proposed(tried: Proposal) -> Iterator[Block]:
    """Say what other rows gain, and print them so that they can be pasted."""
    stopped = "The search was stopped. " if tried.stopped else ""
    better = tried.better
    if better is None:
        none = "No other rows have shorter runs" if tried.exact else "No shorter runs were found"
        yield Paragraph((f"{stopped}{none}: nothing is proposed.",), apart=True)
        return
    how = "no other rows are better" if tried.exact else "the best found"
    now, then = _runs_said(tried.now), _runs_said(better)
    gained = "Shorter runs" if better.total < tried.now.total else "Fewer connections lack a length"
    said = f"{stopped}{gained}: {now} now, {then} in these rows ({how})."
    yield Paragraph((said, _treble(tried), *rows_text(tried.rows).splitlines()), apart=True)


def _runs_said(report: LayoutReport) -> str:
    said = length_text(report.total)
    without = len(report.lacking)
    return f"{said} and {count(without, 'connection')} without a length" if without else said


def _treble(tried: Proposal) -> str:
    now, better = tried.now.worst, None if tried.better is None else tried.better.worst
    was, will = (
        "not known" if one is None else f"{decibel(one.treble_loss)} dB" for one in (now, better)
    )
    return f"Treble lost at worst: {was} now, {will} in these rows."


def rows_text(rows: Sequence[Sequence[str]]) -> str:
    """Return rows as a board file has them, to be pasted under its `[layout]`.

    A line ends between two names, so that no terminal breaks a name in two.

    Parameters
    ----------
    rows : of names, the back row first
    """
    lines = ["rows = ["]
    for row in rows:
        line = "  ["
        for number, name in enumerate(map(_quoted, row)):
            word = name + ("]," if number == len(row) - 1 else ",")
            if len(line) + 1 + len(word) > _WIDEST and line.strip("[ "):
                lines.append(line)
                line = "   "
            line += word if line.endswith("[") else f" {word}"
        lines.append(line)
    return "\n".join([*lines, "]"])


def _quoted(text: str) -> str:
    """Return text as a string of TOML, which is written as in JSON, with every character seen."""
    return escaped_json(json.dumps(text, ensure_ascii=False))


def shopping_blocks(bought: Sequence[Stock], *, boards: int = 1) -> Iterator[Block]:
    """Yield the shopping list: ready-made lengths one by one, cut cable by its total."""
    rows = [row for stock in bought for row in _bought(stock)]
    if rows:
        whose = "" if boards == 1 else f" for these {boards} boards"
        yield Table(f"To buy{whose}:", _SHOPPING, rows)


def _bought(stock: Stock) -> Iterator[Row]:
    pieces = stock.pieces
    name = plain(stock.cable, 40)
    if not stock.sold and pieces.counted:
        total = sum_of(pieces.counted)
        yield name, pieces.many, total, _cut(pieces)
    for length, number in pieces.counted if stock.sold else ():
        yield name, number, length, _instead(length, pieces)
    if stock.lacking:
        yield name, stock.lacking, None, "without a length"


def _cut(pieces: Pieces) -> str:
    """Say into what a length is cut."""
    each = [
        f"{number} × {length_text(length)}" if number > 1 else length_text(length)
        for length, number in pieces.counted
    ]
    if pieces.many == 1:
        return "cut to length"
    more = len(each) - _MOST_CUT
    return f"in all: {', '.join(each[:_MOST_CUT])}" + (f" and {more} more" if more > 0 else "")


def _instead(length: float, pieces: Pieces) -> str:
    if length in pieces.beyond:
        return "longer than all that are sold"
    wanted = [length_text(one) for one, stock in pieces.longer if stock == length]
    return f"also for {' and '.join(wanted)}" if wanted else ""
