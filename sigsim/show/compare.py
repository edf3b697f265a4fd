"""Several boards side by side as a document."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Final, NamedTuple, TypeVar

from sigsim.metrics import LEVEL_SAID_DB, NOTICED_DB, verdict
from sigsim.show import kinds
from sigsim.show.cures import hidden_words
from sigsim.show.document import Column, Document, Paragraph, Table
from sigsim.show.ends import changed, ended, placed, where, why_silent
from sigsim.show.kinds import BLANK
from sigsim.show.loss import UNPROVEN
from sigsim.show.names import path_tails, shortened, told_apart
from sigsim.show.render.text import decibel, plain
from sigsim.show.variants import version_words

if TYPE_CHECKING:
    from sigsim.decide.compare import Cell, CompareReport, Difference, Row
    from sigsim.show import document as shown

_T = TypeVar("_T")
_MOST_HEARD: Final = 4
_PATH: Final = 34
_LABEL: Final = 20
# Beside names instead of letters there is no room for the difference of the corner and the peak.
_AS_MANY: Final = -2
_AT_WORST: Final = "at worst"
_LEGEND: Final = (
    "Level and treble in dB; Δ is the difference to {first}{counted}; a minus of treble means less "
    "lost."
)
_COUNTED: Final = ", of the treble with the lead counted (+lead)"
_HEARD: Final = (
    "Each board is measured against its own reference, and these differ (another lead or "
    "instrument, other pedals on). What arrives, whatever the reference:"
)
_PLAIN: Final = Column("Treble", kinds.LOSS, rank=0)
_WITH_LEAD: Final = Column("+lead", kinds.LOSS, "Treble with the lead (dB)", rank=1)


def document(report: CompareReport) -> Document:
    """Return the sentence, which letter is which board, the table and what to mind."""
    return Document(
        "This board or that one",
        (
            Paragraph((sentence(report),), apart=True),
            Paragraph(tuple(_boards(report))),
            Table("Side by side", _columns(report), list(_rows(report)), captioned=False),
            Paragraph((*_worst(report), *remarks(report))),
        ),
    )


def sentence(report: CompareReport) -> str:
    """Return the answer: which board loses least, and by how much, at worst or in the scenes."""
    said = " ".join(_headline(report, row) for row in report.headlines)
    ends = {where(board) for board in report.boards}
    return (
        placed(", ".join(filter(None, (_changed(report), *ends))), said) if len(ends) == 1 else said
    )


def _changed(report: CompareReport) -> str:
    """Return what all boards were read with, empty where they differ in it."""
    said = {changed(board) for board in report.boards}
    return said.pop() if len(said) == 1 else ""


class _There(NamedTuple):
    """A board that has a state, by its label and by what it is called in front of a verb."""

    label: str
    name: str
    cell: Cell


def _headline(report: CompareReport, row: Row) -> str:
    where = _AT_WORST if row is report.worst else f"in '{plain(row.title, 30)}'"
    there = [
        _There(label, name, cell)
        for label, name, cell in zip(_labels(report), _named(report), row.cells, strict=True)
        if cell is not None
    ]
    for label, name, cell in there:
        if cell.report.silent:
            scene = "" if row is report.worst else f" {where}"
            why = why_silent(report.boards[_labels(report).index(label)], cell.report.state.on)
            return ended(f"Nothing comes out of {name.rstrip(',')}{scene}: {why}")
    missing = [label for label, cell in _labelled(report, row.cells) if cell is None]
    absent = f" {', '.join(missing)}: no such scene." if missing else ""
    return f"{_compared(report, where, there)}.{absent}"


def _named(report: CompareReport) -> list[str]:
    """Return what each board is called in front of a verb."""
    if report.names:
        return _labels(report)
    names = told_apart(report.boards, 40)
    return [f"{letter}, '{name}'," for letter, name in _labelled(report, names)]


def _compared(report: CompareReport, where: str, there: Sequence[_There]) -> str:
    """Say how far boards are apart in one state, of which all give sound."""
    lost = [report.counted(one.cell.report) for one in there]
    best, worst = lost.index(min(lost)), lost.index(max(lost))
    gap, lead = lost[worst] - lost[best], ", the lead counted" if report.leads_differ else ""
    apart, level = _level_apart([(one.label, one.cell.report.level) for one in there])
    over = [one.cell.over_level for one in there]
    arriving = _treble_apart([(one.label, one.cell.over_level) for one in there])
    # Each board's loss is counted against its own instrument and knobs, which may take more.
    turned = f"; yet {arriving}" if arriving and over.index(min(over)) == best else ""
    if gap >= NOTICED_DB:
        said = (f"; {level}" if apart >= LEVEL_SAID_DB else "") + turned
        return (
            f"{there[best].name} {_loses(lost[best])} of treble {where}{lead}; {there[worst].name} "
            f"{_loses(lost[worst])}, {decibel(gap)} dB more{said}"
        )
    low, high = (f"{decibel(lost[i])} dB ({verdict(lost[i])})" for i in (best, worst))
    range_ = low if low == high else f"{low} to {high}"
    start = f"{where[0].upper()}{where[1:]} {_them(report)}"
    if apart >= NOTICED_DB:
        also = f"; {arriving}" if arriving else ""
        return f"{start} lose about the same treble, {range_}{lead}, but {level}{also}"
    if arriving:
        return f"{start} lose about the same treble, {range_}{lead}, but {arriving}"
    return (
        f"{start} differ by no more than {decibel(gap)} dB of treble and {decibel(apart)} dB of "
        f"level, which is hardly noticed: they lose {range_}{lead}{_elsewhere(report, where)}"
    )


def _elsewhere(report: CompareReport, where: str) -> str:
    """Say in which state the losses differ most, where they hardly do in the worst ones."""
    if where != _AT_WORST:
        return ""
    apart = {
        row.title: max(lost) - min(lost)
        for row in report.rows[:-1]
        if (lost := [report.counted(c.report) for c in row.cells if c and not c.report.silent])
    }
    title = max(apart, key=lambda name: apart[name])
    if not apart[title] >= NOTICED_DB:
        return ""
    return f"; with '{plain(title, 30)}' their losses differ by {decibel(apart[title])} dB"


def _loses(loss: float) -> str:
    verb = "gains" if decibel(loss).startswith("-") else "loses"
    return f"{verb} {decibel(abs(loss))} dB ({verdict(loss)})"


def _level_apart(levels: Sequence[tuple[str, float]]) -> tuple[float, str]:
    """Return how far the loudest board is from the softest [dB], and that in words."""
    softest, loudest = (f(levels, key=lambda one: one[1]) for f in (min, max))
    apart = loudest[1] - softest[1]
    return apart, f"{softest[0]} is {decibel(apart)} dB softer than {loudest[0]}"


def _treble_apart(arriving: Sequence[tuple[str, float]]) -> str:
    """Say how far boards are apart in the treble that arrives; nothing if that is not noticed."""
    least, most = (f(arriving, key=lambda one: one[1]) for f in (min, max))
    apart = most[1] - least[1]
    if not apart >= NOTICED_DB:
        return ""
    return f"{least[0]} arrives with {decibel(apart)} dB less of it than {most[0]}"


def _boards(report: CompareReport) -> Iterator[str]:
    if report.names:
        yield from _versions(report)
    else:
        tails = path_tails([board.file for board in report.boards], _PATH)
        for letter, (board, tail) in _labelled(report, zip(report.boards, tails, strict=True)):
            end = f", {where(board)}" if where(board) else ""
            yield f"{letter}  {plain(board.name, 40)}{f' ({tail})' if board.title else ''}{end}"
    yield from _hiding(report)


def _versions(report: CompareReport) -> Iterator[str]:
    """Say which file it is, and what each variant changes in it."""
    first = report.boards[0]
    (tail,) = path_tails([first.file], _PATH)
    yield f"{plain(first.name, 60)}{f' ({tail})' if first.title else ''}"
    for label, version in zip(_labels(report)[1:], first.versions, strict=True):
        yield f"{label}: {version_words(version)}"


def _hiding(report: CompareReport) -> Iterator[str]:
    """Say which boards hide the pickup from a stage: always, or otherwise than other boards."""
    alike = len(set(report.hidden)) == 1
    for label, found in _labelled(report, report.hidden):
        for hidden in found:
            if hidden.always or not alike:
                yield f"{label}: {hidden_words(hidden)}."


def _labels(report: CompareReport) -> list[str]:
    """Return what each board is called in a sentence."""
    if not report.names:
        return list(report.labels)
    return [f"'{name}'" for name in shortened(report.names, _LABEL)]


def _labelled(report: CompareReport, things: Iterable[_T]) -> Iterator[tuple[str, _T]]:
    return zip(_labels(report), things, strict=True)


def _them(report: CompareReport) -> str:
    return "the variants" if report.names else "the boards"


def _columns(report: CompareReport) -> tuple[Column, ...]:
    """Return the columns; the loss that counts stands before its difference and its word."""
    losses: tuple[Column, ...] = (_PLAIN,)
    if report.basis.reference == "ideal":
        losses = (_PLAIN, _WITH_LEAD) if report.leads_differ else (_WITH_LEAD, _PLAIN)
    columns = (
        Column("Combination", kinds.names(30)),
        Column("", kinds.WORD, rank=0),
        Column("Level", kinds.CHANGE, rank=4),
        Column("Δ", kinds.CHANGE, rank=7),
        *losses,
        Column("Δ ", kinds.CHANGE, rank=2),
        Column(" ", kinds.WORD, rank=3),
        Column("Corner", kinds.SHORT_HERTZ, rank=6),
        Column(" Δ", kinds.HERTZ_CHANGE, rank=8),
        Column("Resonance", kinds.PEAK, rank=9),
    )
    return columns[: _AS_MANY if report.names else None]


def _rows(report: CompareReport) -> Iterator[shown.Row]:
    labels = shortened(report.labels, _LABEL)
    for row in report.rows:
        for number, cell in enumerate(row.cells):
            name = BLANK if number else row.title
            cells = (name, labels[number], *_cells(report, cell, row.differences[number]))
            yield cells[: _AS_MANY if report.names else None]


def _cells(
    report: CompareReport, cell: Cell | None, change: Difference | None
) -> tuple[shown.Cell, ...]:
    with_lead = report.basis.reference == "ideal"
    if cell is None:
        losses = [math.nan] * (2 if with_lead else 1)
        return math.nan, BLANK, *losses, BLANK, "no scene", BLANK, BLANK, BLANK
    s = cell.report
    counted = report.counted(s)
    other = s.treble_loss if report.leads_differ else s.treble_loss_with_lead
    losses = [other, counted] if with_lead else [counted]
    level: shown.Cell = BLANK
    treble: shown.Cell = BLANK
    corner: shown.Cell = BLANK
    if change is not None:
        treble = change.treble_loss_with_lead if report.leads_differ else change.treble_loss
        level, corner = change.level, change.corner
    return s.level, level, *losses, treble, verdict(counted), s.corner, corner, s.resonance


def _worst(report: CompareReport) -> Iterator[str]:
    for letter, cell in _labelled(report, report.worst.cells):
        if cell is not None:
            yield f"Worst of {letter}: {plain(cell.report.state.title, 64)}."
    yield _LEGEND.format(first=_labels(report)[0], counted=_COUNTED if report.leads_differ else "")
    if not report.scenes:
        yield f"No scene is in more than one of {_them(report)}, so that none can be compared."


def remarks(report: CompareReport) -> Iterator[str]:
    """Yield what must be known beside the losses: where references differ, what is not proven."""
    heard = [
        _heard(row, label, _labels(report)[0], change)
        for row in report.rows
        for label, change in _labelled(report, row.differences)
        if change and change.heard_otherwise
    ]
    if heard:
        yield from (_HEARD, *heard[:_MOST_HEARD])
    if len(heard) > _MOST_HEARD:
        yield f"… and {len(heard) - _MOST_HEARD} more (--json)"
    if not all(report.proven):
        yield UNPROVEN


def _heard(row: Row, label: str, first: str, difference: Difference) -> str:
    more = "more" if difference.over_level >= 0 else "less"
    amount = decibel(abs(difference.over_level))
    treble = (
        f"{amount} dB {more} treble than {first}" if float(amount) else f"as much treble as {first}"
    )
    text = f"  {plain(row.title, 40)}: {label} has {treble}"
    if abs(difference.level) >= LEVEL_SAID_DB:
        how = "louder" if difference.level > 0 else "softer"
        text += f" and is {decibel(abs(difference.level))} dB {how}"
    return f"{text}."
