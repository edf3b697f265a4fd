"""Where a buffer goes, as a document."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Final, TypeVar

from sigsim.board.state import ALL_OFF_TITLE
from sigsim.decide.buffer.report import LEAST_GAIN_DB
from sigsim.decide.folding import folded, unfolded
from sigsim.decide.pickup import has_pickup, powered_places, steady, wanting
from sigsim.metrics import LEVEL_SAID_DB, verdict
from sigsim.show import cures, kinds
from sigsim.show.document import Column, Document, Paragraph, Table
from sigsim.show.ends import at_end
from sigsim.show.folds import and_more
from sigsim.show.kinds import BLANK
from sigsim.show.places import elsewhere, not_elsewhere, place, places
from sigsim.show.render.text import decibel, in_letters, level_said, listed, plain, signed

if TYPE_CHECKING:
    from sigsim.decide.buffer.instead import Instead
    from sigsim.decide.buffer.noise import BufferNoise
    from sigsim.decide.buffer.report import BufferReport, Placement
    from sigsim.decide.cures import Remedy
    from sigsim.decide.folding import Fold
    from sigsim.show.document import Block, Cell, Row

_Change = TypeVar("_Change", "Placement", "Instead")

TITLE: Final = "Would a buffer help?"
_MOST_INSIDE: Final = 6
_MOST_INSTEAD: Final = 6

_RANK: Final = Column("", kinds.COUNT, only=("terminal",))
_PLACE: Final = Column("Buffer", kinds.PHRASE)
_LOSS: Final = Column("Loss", kinds.LOSS, "Treble loss (dB)", rank=0)
_CHANGE: Final = Column("Change", kinds.CHANGE)
_WORD: Final = Column(" ", kinds.WORD, "In a word")
_LOUDER: Final = Column("Louder", kinds.CHANGE)
_BAR: Final = Column("", kinds.BAR, only=("browser",))
_REFUSED: Final = (Column("Place", kinds.PHRASE), Column("Because of", kinds.names(quoted=True)))
_INSTEAD: Final = (Column("What", kinds.PHRASE), _LOSS, _CHANGE, _WORD, _LOUDER)
_NUMBERS: Final = {1: "one buffer", 2: "two buffers", 3: "three buffers"}
_NO_ROOM: Final = "It needs a cable behind it: list that cable in the chain to see the places."


def sentence(report: BufferReport) -> str:
    """Return the answer in one sentence or two."""
    return at_end(report.board, _sentence(report))


def _sentence(report: BufferReport) -> str:
    what = "worst" if not report.views[0].name else "weighted"
    now = f"the {what} treble loss is {_loss(report.now)}"
    if not report.needed:
        return f"{_capital(now)}: {_left_out(report)}."
    if report.only_spares_load:
        return _spares_load(report, what)
    best = report.advised
    if best is None:
        return f"{_nowhere(report, now)}{_inside_sentence(report)}"
    many = len(best.gaps)
    text = (
        f"{_capital(_NUMBERS[many])} {places(best.gaps)} {'cuts' if many == 1 else 'cut'} the "
        f"{what} treble loss from {_loss(report.now)} to {_loss(best.loss)}{louder(best)}"
    )
    return text + _next(report, best) + "." + _inside_sentence(report)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _loss(loss: float) -> str:
    return f"{decibel(loss)} dB ({verdict(loss)})"


def louder(placement: Placement) -> str:
    """Say what a placement does to the level, where that must be known beside a treble loss."""
    said = level_said(placement.level_change)
    return f" and makes it {said}" if said else ""


def _left_out(report: BufferReport) -> str:
    """Say that no buffer is needed, or none beside those that are there."""
    there = [s.stage for _, s in powered_places(report.board) if steady(s)]
    if not there:
        return "no buffer is needed"
    verb = "isolates" if len(there) == 1 else "isolate"
    return f"{listed(there, most=3)} {verb} already, a further buffer is not needed"


def _spares_load(report: BufferReport, what: str) -> str:
    best = report.advised
    where = "before it" if best is None else places(best.gaps)
    level = report.own_level
    also = f" and {decibel(level)} dB of level" if level >= LEVEL_SAID_DB else ""
    return (
        f"The {what} treble loss by the wiring is {_loss(report.now)}, and needs no buffer; but "
        f"'{plain(report.loading, 30)}' itself loads the instrument: a buffer "
        f"{where} gives {decibel(-report.own_cost)} dB of treble{also}."
        f"{'' if best is not None else f' {_NO_ROOM}'}"
    )


def _nowhere(report: BufferReport, now: str) -> str:
    """Say that no place helps, or that there is none."""
    number = _NUMBERS[report.count]
    outside = not_elsewhere(report.elsewhere)
    if not report.placements:
        room = f"There is no place for {number}{outside}: {now}"
        if any(gap.forbidden_by for gap in report.refused):
            return f"{room}; where else a box could stand, it would hide the pickup."
        return f"{room}; a box needs a cable behind it, so list that cable in the chain."
    no = "No buffer" if report.count == 1 else f"No choice of places for {number}"
    best = report.placements[0].loss
    return (
        f"{no}{outside} helps: {now} and at best {decibel(best)} dB with "
        f"{'one' if report.count == 1 else 'them'}."
    )


def _inside_sentence(report: BufferReport) -> str:
    """Say where inside a loop one buffer does better, although it goes when the loop does."""
    best = report.proposed_inside[0] if report.proposed_inside else None
    outside = report.placements[0].loss if report.placements else report.now
    if best is None or decibel(best.loss) == decibel(outside) or best.loss > outside:
        return ""
    return f" One {places(best.gaps)} leaves {_loss(best.loss)}."


def _next(report: BufferReport, best: Placement) -> str:
    many = len(best.gaps)
    more = report.best_by_count.get(many + 1)
    if more is not None:
        word = {1: "a second", 2: "a third"}[many]
        gain = best.loss - more
        if not gain >= LEAST_GAIN_DB:
            return f"; {word} gains nothing"
        return f"; {word} gains {'only ' if gain < 1 else ''}{decibel(gain)} dB more"
    if many > 1:
        return f"; one alone reaches {decibel(report.best_by_count[1])} dB"
    return ""


def document(
    report: BufferReport,
    instead: Sequence[Instead],
    noise: BufferNoise | None,
    remedies: Sequence[Remedy] = (),
    *,
    most: int,
    every: bool = False,
    hint: str = "",
) -> Document:
    """Return the answer, the ranked places, the refused ones and what else would do.

    Parameters
    ----------
    report : from `buffer_report`
    instead : from `instead_of_buffer`
    noise : of the placements in `shown`, None where it is not told
    remedies : for stages from which the pickup is always hidden
    most : how many rows are listed
    every : whether all places are listed, those that gain nothing too, and no row is folded
    hint : how to see them all, empty for nothing
    """
    if noise is not None and not math.isfinite(noise.now):
        noise = None  # nothing arrives at this end with all off
    blocks: list[Block] = [Paragraph((sentence(report),), apart=True)]
    blocks += [Paragraph(tuple(_alone(report))), _ranked(report, noise, most, every)]
    blocks += _rest(report, every, hint)
    if noise is not None and noise.changes:
        blocks.append(_noise(noise))
    blocks += cures.blocks(remedies)
    return Document(TITLE, (*blocks, *_more(report, instead, every)))


def groups(report: BufferReport, most: int, every: bool) -> list[Fold[Placement]]:
    """Return the placements that a table lists, those near the first of a fold with it."""
    listed_ = report.placements if every or report.only_spares_load else report.proposed
    return _folds(listed_, every)[:most]


def _folds(rows: Sequence[_Change], every: bool) -> list[Fold[_Change]]:
    """Fold rows whose losses are nearly equal, none if every row is wanted."""
    return unfolded(rows) if every else folded(rows, lambda row: (row.loss,))


def shown(report: BufferReport, most: int, every: bool) -> list[Placement]:
    """Return the placements that have a row of their own."""
    return [fold.first for fold in groups(report, most, every)]


def _alone(report: BufferReport) -> list[str]:
    """Say by what the places are ranked, and what the buffer alone does."""
    lines = []
    if report.views[0].name:
        weights = ", ".join(f"{plain(v.name, 20)} × {v.weight:g}" for v in report.views)
        lines.append(f"The mean over the scenes: {weights}.")
    if not report.proven:
        lines.append(
            "Not proven: with so much loss in a row, or so many ways through the board, a "
            "combination that counts here may be silent, or a worse one missing."
        )
    cost = report.own_cost
    alone = "The buffer alone, without any other wiring,"
    effect = "gives" if decibel(cost).startswith("-") else "takes"
    spared = ": it spares the instrument the load behind it" if effect == "gives" else ""
    if decibel(cost) == decibel(report.own_level) == decibel(0.0):
        lines.append(f"{alone} changes nothing.")
    else:
        lines.append(
            f"{alone} {effect} {decibel(abs(cost))} dB of treble and changes the level by "
            f"{signed(report.own_level)} dB{spared}."
        )
    wants = wanting(report.board)
    if wants and not has_pickup(report.board):
        lines.append(f"{cures.no_pickup(wants)}: no place is refused for it.")
    return lines


def _noise(noise: BufferNoise) -> Paragraph:
    text = (
        "Noise: how much more (+) or less (-) hiss comes out, in dB, A-weighted, with "
        f"{ALL_OFF_TITLE}. As it is, it lies {decibel(noise.now, 0)} dB under a signal of 100 mV "
        f"({noise.word})."
    )
    return Paragraph((text,), apart=True)


def _numbers(report: BufferReport, loss: float) -> tuple[Cell, ...]:
    return loss, loss - report.now, verdict(loss)


def _ranked(report: BufferReport, noise: BufferNoise | None, most: int, every: bool) -> Table:
    hiss = (Column("Noise", kinds.CHANGE),) if noise is not None and noise.changes else ()
    number = {id(placed): n for n, placed in enumerate(report.placements, 1)}
    rows: list[Row] = []
    for row, fold in enumerate(groups(report, most, every)):
        first = fold.first
        beside = (first.level_change, *((noise.changes[row],) if noise is not None else ()))
        numbers = _numbers(report, first.loss)
        name = places(first.gaps) + and_more(fold)
        rows.append((number[id(first)], name, *numbers, *beside, first.loss))
    now = report.now
    rows.append((BLANK, "as it is", now, BLANK, verdict(now), *[BLANK] * (1 + len(hiss)), now))
    columns = (_RANK, _PLACE, _LOSS, _CHANGE, _WORD, _LOUDER, *hiss, _BAR)
    return Table("The best place first", columns, rows, captioned=False)


def _rest(report: BufferReport, every: bool, hint: str) -> Iterator[Paragraph]:
    """Say what the places that are not proposed do."""
    rest = [placed for placed in report.placements if not report.gains(placed)]
    harm = [placed for placed in rest if placed.loss > report.now + LEAST_GAIN_DB]
    lines = []
    if len(rest) > len(harm) and not every:
        count = len(rest) - len(harm)
        where = "place makes" if count == 1 else "places make"
        which = f" ({places(rest[0].gaps)})" if count == 1 else ""
        more = "more " if report.proposed else ""
        lines.append(f"{_capital(in_letters(count))} {more}{where} no difference{which}.")
    if harm:
        worst = max(harm, key=lambda placed: placed.loss)
        lines.append(
            f"In some places it does harm, {places(worst.gaps)} {signed(worst.loss - report.now)} "
            "dB: with less cable the pickup's resonance moves up and out of the band, or the load "
            "that damped it is gone."
        )
    if hint and not every and (rest or len(report.proposed) > len(groups(report, 10**6, False))):
        lines.append(hint)
    if lines:
        yield Paragraph(tuple(lines), apart=True)


def _more(report: BufferReport, instead: Sequence[Instead], every: bool) -> Iterator[Table]:
    """Yield the places inside loops, the refused ones, and what else would do, where there are."""
    inside = report.inside if every else report.proposed_inside
    if inside:
        number = {id(p): n for n, p in enumerate(report.inside, len(report.placements) + 1)}
        rows: list[Row] = []
        for fold in _folds(inside, every)[: None if every else _MOST_INSIDE]:
            first = fold.first
            numbers = _numbers(report, first.loss)
            name = places(first.gaps) + and_more(fold)
            rows.append((number[id(first)], name, *numbers, first.level_change))
        caption = elsewhere(report.elsewhere)
        yield Table(caption, (_RANK, _PLACE, _LOSS, _CHANGE, _WORD, _LOUDER), rows)
    if report.refused:
        rows = [(place(gap), gap.forbidden_by or "") for gap in report.refused]
        yield Table("Refused, because a pedal behind wants to see the pickup:", _REFUSED, rows)
    if instead:
        rows = []
        folds = _folds(instead, every)
        few = folds if every else folds[:_MOST_INSTEAD]
        for other in few:
            change = other.first
            name = _words(change) + and_more(other)
            rows.append((name, *_numbers(report, change.loss), change.level_change))
        best = f" (the best {len(few)} of {len(folds)})" if len(few) < len(folds) else ""
        yield Table(f"Instead of a new box{best}:", _INSTEAD, rows)


def _words(change: Instead) -> str:
    """Name a change to what is there."""
    name = f"'{plain(change.stage, 30)}'"
    if change.gap is None:
        return f"{name} with a buffered bypass"
    return f"{name} moved to {place(change.gap)}"
