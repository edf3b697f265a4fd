"""What costs the most, as a document and as JSON."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final

from sigsim.decide.blame.report import LEAST_SHARED_DB, folded_blames, most_felt_folds
from sigsim.decide.folding import unfolded
from sigsim.show import kinds
from sigsim.show.document import Column, Document, Paragraph, Table
from sigsim.show.ends import at_end, ended, why_silent
from sigsim.show.folds import HINT, and_more, folded_note
from sigsim.show.kinds import Named
from sigsim.show.loss import asked, louder, state_values, what_is_on
from sigsim.show.render.json import finite, json_document
from sigsim.show.render.text import decibel, level_said, plain

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from sigsim.board.model import Board
    from sigsim.decide.blame.report import Blame, BlameReport
    from sigsim.decide.blame.trial import Outcome
    from sigsim.decide.folding import Fold
    from sigsim.show.document import Block, Cell

TITLE: Final = "What costs the most?"
GROUP_NAMES: Final = {
    "cables": "all cables but the lead",
    "bypass wiring": "all bypass wiring",
    "loading by inputs": "all loading by inputs",
    "destination": "the amp",
    "buffers of stages that are off": "buffers of pedals that are off",
    "taps": "all side cables",
    "splits": "all other ways",
    "passive stages that are on": "passive boxes that are on",
    "instrument's lead": "the instrument's lead",
}

# What several things of one group are called; pieces of cable go by their cable's name.
_KINDS: Final = {
    "bypass wiring": "boxes that are off",
    "loading by inputs": "inputs",
    "buffers of stages that are off": "buffers of boxes that are off",
    "taps": "side cables",
    "splits": "other ways",
    "passive stages that are on": "passive boxes that are on",
}

_COLUMNS: Final = (
    "Out: dB less lost with it alone made ideal. Alone: dB lost with nothing else but it. "
    "--explain says more."
)
_EXPLANATION: Final = """\
Out: how many dB less are lost with it alone made ideal, and that as a share of the loss; \
then the corner and the change of level at 100 Hz. Alone: how many dB are lost with nothing else \
but it, and the corner then.
The two differ where things act on one another: of many metres of cable each matters less once \
the others have taken the treble, so shares need not add up to 100 %, and a resonance that moves \
can turn a sign. A minus under Out: it helps, as a buffer that shields the pickup does.
Ideal is a cable of no length and no plugs, a perfect wire for what is off, no side cable, no \
other way of a split, and an input that loads nothing, which gives back level as well.
The star: the reference has it as well, so that the loss does not count it."""

_KEPT: Final = (
    "In the reference as well (*), so that the loss above does not count them; what they take:"
)

_NUMBERS: Final = (
    Column("Out", kinds.LOSS, rank=0),
    Column("Share", kinds.SHARE, rank=2),
    Column("Corner", kinds.SHORT_HERTZ, rank=5),
    Column("Louder", kinds.CHANGE, rank=4),
    Column("Alone", kinds.LOSS, rank=1),
    Column("Corner ", kinds.SHORT_HERTZ, "Corner alone (Hz)", rank=6),
    Column("", kinds.BAR, only=("browser",)),
)
_WHAT: Final = (Column("What", kinds.names(60, 60)), Column("Group", kinds.WORD, only=("browser",)))
_GROUP: Final = (Column("Group", kinds.PHRASE), Column("Things", kinds.COUNT))


def document(report: BlameReport, *, every: bool, explain: bool, hint: str = HINT) -> Document:
    """Return the sentence, what costs, the groups, and what the reference has as well.

    Parameters
    ----------
    report : from `blame_report`
    every : whether everything is listed in a row of its own, not only what is felt most
    explain : whether the meaning of the columns is
    hint : how to see what is not listed
    """
    blocks: list[Block] = [Paragraph(tuple(_answer(report)))]
    if math.isfinite(report.state.treble_loss):
        if report.counted:
            caption = "What each thing costs there"
            blocks += _things(report, caption, report.counted, every=every, hint=hint)
        rows = [(_starred(g, report.board), g.count, *_numbers(g)) for g in report.groups]
        blocks.append(Table("By group:", (*_GROUP, *_NUMBERS), rows))
        if report.kept:
            blocks.append(Paragraph((_KEPT,)))
            blocks += _things(
                report, "In the reference as well", report.kept, every=every, hint=hint
            )
        lines = _EXPLANATION.splitlines() if explain else [_COLUMNS]
        blocks.append(Paragraph(tuple(lines), quiet=True))
    return Document(TITLE, tuple(blocks))


def group_name(group: str, board: Board) -> str:
    """Return what a group is called on a board: its end by its own name where it has several."""
    if group == "destination" and len(board.ends) > 1:
        return f"the input of '{plain(board.end.name, 30)}'"
    return GROUP_NAMES[group]


def _starred(blame: Blame, board: Board) -> str:
    return group_name(blame.group, board) + (" *" if blame.in_reference else "")


def _things(
    report: BlameReport, caption: str, blames: Sequence[Blame], *, every: bool, hint: str
) -> Iterator[Block]:
    folds = unfolded(blames) if every else folded_blames(blames)
    listed = folds if every else most_felt_folds(folds)
    rows = [
        (row_name(fold), group_name(fold.first.group, report.board), *_numbers(fold.first))
        for fold in listed
    ]
    if rows:
        yield Table(caption, (*_WHAT, *_NUMBERS), rows, captioned=False)
    rest = [abs(blame.saved) for fold in folds if fold not in listed for blame in fold.rows]
    yield from folded_note(listed, hint)
    if rest:
        what = f"{len(rest)} {'more' if listed else 'things'}"
        most = decibel(max(rest), 2)
        yield Paragraph((f"{what} whose Out is {most} dB at most{hint}.",), apart=True)


def row_name(fold: Fold[Blame]) -> Named:
    """Return the name of a row; of things that print alike their number, their kind and each's."""
    first = fold.first
    each = decibel(first.saved)
    if fold.more and all(decibel(blame.saved) == each for blame in fold.more):
        number, kind = len(fold.rows), _KINDS.get(first.group, first.group)
        before = f"{number} {'pieces of ' if first.cable else kind}"
        return Named(first.cable, before, f", {each} dB each")
    return Named(said_name(first), after=and_more(fold))


def _numbers(b: Blame) -> tuple[Cell, ...]:
    out = b.saved, b.share, b.without.corner, b.level_change
    return *out, b.costs, b.alone.corner, b.saved


def _answer(report: BlameReport) -> Iterator[str]:
    yield sentence(report)
    if first := report.leading_group:
        yield (
            f"Of the groups, most is lost to {group_name(first.group, report.board)}: "
            f"{first.count} things, {decibel(first.saved)} dB together."
        )
    if last := report.helper:
        lost = decibel(last.without.treble_loss)
        level = level_said(last.level_change)
        all_of_it = f", and all of it would be {level}" if level else ""
        yield f"{_quoted(last)} helps the treble: without it {lost} dB would be lost{all_of_it}."


def sentence(report: BlameReport) -> str:
    """Return the first sentence: what costs the most, and how much."""
    return at_end(report.board, _sentence(report))


def _sentence(report: BlameReport) -> str:
    state = report.state
    worst = ", the worst of all combinations" if report.is_worst else ""
    where = f"With {what_is_on(state.state.on)}{worst}"
    total = state.treble_loss
    if not math.isfinite(total):
        why = why_silent(report.board, state.state.on)
        return ended(f"{where}, nothing comes out: {why}")
    if not report.counted or total < LEAST_SHARED_DB:
        change = f"{decibel(-total)} dB of treble are gained ({state.verdict})"
        change = "no treble is lost" if total > -LEAST_SHARED_DB else change
        level = louder(state.level_change)
        return f"{where}, {change} against the reference{level}{_most_kept(report)}."
    first = max(report.counted, key=lambda blame: blame.saved)
    left = first.without.treble_loss
    now = f"instead of {decibel(total)} dB ({state.verdict}){louder(state.level_change)}"
    change = f"{decibel(left)} dB of treble would be lost"
    if left < LEAST_SHARED_DB:
        change = "no treble would be lost"
    if left <= -LEAST_SHARED_DB:
        change = f"{decibel(-left)} dB gained"
    fold = next(f for f in folded_blames(report.counted) if first in f.rows)
    alike = f", with{and_more(fold).removeprefix(' and')}," if fold.more else ""
    return f"{where}, {_quoted(first)}{alike} costs the most: without it {change} {now}."


def _most_kept(report: BlameReport) -> str:
    """Say what takes most of what the loss does not count, where nothing that counts is lost."""
    first = max(report.kept, key=lambda blame: blame.saved)
    if first.saved < LEAST_SHARED_DB:
        return ": there is nothing to blame"
    return f"; {_quoted(first)}, which the reference has as well, takes {decibel(first.saved)} dB"


def _quoted(blame: Blame) -> str:
    return f"'{plain(said_name(blame), 60)}'"


def said_name(blame: Blame) -> str:
    """Return what a player calls it; data say tap."""
    return (
        f"{blame.name.removesuffix(' (tap)')} (side cable)" if blame.group == "taps" else blame.name
    )


def as_json(report: BlameReport) -> str:
    """Return the report as one JSON document; plain numbers in SI units, null for none."""
    values = {
        **asked(report.board, report.basis),
        "is_worst": report.is_worst,
        "state": state_values(report.state),
        "items": [_document(blame) for blame in report.items],
        "groups": [_document(blame) for blame in report.groups],
    }
    return json_document(values)


def _document(blame: Blame) -> dict[str, Any]:
    return {
        "name": blame.name,
        "group": blame.group,
        "count": blame.count,
        "in_reference": blame.in_reference,
        "saved_db": finite(blame.saved),
        "share": finite(blame.share),
        "level_change_db": finite(blame.level_change),
        "costs_db": finite(blame.costs),
        "taken_out": _reading(blame.without),
        "alone": _reading(blame.alone),
    }


def _reading(reading: Outcome) -> dict[str, Any]:
    return {
        "treble_loss_db": finite(reading.treble_loss),
        "level_db": finite(reading.level),
        "corner_hz": reading.corner,
    }
