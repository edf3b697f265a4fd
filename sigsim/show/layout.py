"""Where things stand and how long the cables are, as a document."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from sigsim.metrics import verdict
from sigsim.quantities import length_text
from sigsim.show import kinds
from sigsim.show.document import Column, Document, Heading, Paragraph, Table
from sigsim.show.ends import changed, ended, placed, why_silent
from sigsim.show.layout_problems import problems, slack_lines
from sigsim.show.layout_proposed import proposed
from sigsim.show.layout_shopping import shopping_blocks
from sigsim.show.layout_words import LENGTH, end_name, length_of, remark, total_of
from sigsim.show.render.text import count, decibel, plain

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from sigsim.board.model import Board
    from sigsim.decide.layout.proposal import Proposal
    from sigsim.decide.layout.report import LayoutReport, Run
    from sigsim.decide.layout.shopping import Stock
    from sigsim.decide.loss.report import StateReport
    from sigsim.show.document import Block, Row

TITLE: Final = "Where things stand"
_END: Final = kinds.names(24, 40)
_CABLE: Final = kinds.names(14, 24)
RUNS: Final = (
    Column("No", kinds.COUNT, key="number", rank=0),
    Column("From", _END, key="from"),
    Column("To", _END, key="to"),
    Column("Cable", _CABLE, key="cable", rank=6),
    Column("Run", LENGTH, key="run_m", rank=0),
    Column("Take", LENGTH, key="length_m", rank=0),
    Column("Left", LENGTH, "Left over", key="left_over_m", rank=0),
    Column("", kinds.WORD, key="remark", rank=0),
)


def document(
    reports: Sequence[LayoutReport],
    bought: Sequence[Stock],
    tried: Sequence[Proposal],
    then: Sequence[Stock] = (),
) -> Document:
    """Return the answer: of each board its runs and what is wrong, and one shopping list.

    Parameters
    ----------
    reports : one for each board
    bought : what to buy for all of them
    tried : rows that were looked for, one for each board or none
    then : what to buy where the boards are in the rows that are proposed, nothing for none
    """
    blocks: list[Block] = []
    for index, report in enumerate(reports):
        if len(reports) > 1:
            blocks.append(Heading(plain(report.board.name, 70)))
        blocks.append(Paragraph((sentence(report),)))
        blocks += [runs_table(report), *problems(report)]
        if slack := list(slack_lines(report)):
            blocks.append(Paragraph(tuple(slack), apart=True))
        if tried:
            blocks += proposed(tried[index])
    rows = ", for the rows as they are" * bool(then)
    blocks += shopping_blocks(bought, boards=len(reports), rows=rows)
    blocks += shopping_blocks(then, boards=len(reports), rows=", for the rows that are proposed")
    return Document(TITLE, tuple(blocks))


def sentence(report: LayoutReport) -> str:
    """Return the first sentence: what is wrong, or else how much cable lies there and its cost."""
    wrong = list(_wrong(report))
    laid = [one for one in report.runs if one.run is not None]
    if not laid:
        said = "No cable runs between two boxes that stand somewhere"
    else:
        together = length_text(total_of(report))
        run = f"a run of {together}" if len(laid) == 1 else f"{together} of runs in all"
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
