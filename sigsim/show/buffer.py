"""Where a buffer goes, as a document and as JSON."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from sigsim.board.state import ALL_OFF_TITLE
from sigsim.decide.buffer.report import clearly_less
from sigsim.items.cable import Cable
from sigsim.metrics import verdict
from sigsim.show import kinds
from sigsim.show.document import Column, Document, Paragraph, Table
from sigsim.show.kinds import BLANK
from sigsim.show.lengths import length_text
from sigsim.show.render.json import finite, json_document
from sigsim.show.render.text import decibel, plain, signed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sigsim.decide.buffer.gaps import Gap
    from sigsim.decide.buffer.instead import Instead
    from sigsim.decide.buffer.noise import BufferNoise
    from sigsim.decide.buffer.report import BufferReport, Placement
    from sigsim.items.base import Item
    from sigsim.show.document import Block, Cell, Row

TITLE: Final = "Would a buffer help?"
_MOST_INSIDE: Final = 6
_MOST_INSTEAD: Final = 6

_PLACE: Final = Column("Buffer", kinds.PHRASE)
_LOSS: Final = Column("Loss", kinds.LOSS, "Treble loss (dB)")
_CHANGE: Final = Column("Change", kinds.CHANGE)
_WORD: Final = Column(" ", kinds.WORD, "In a word")
_BAR: Final = Column("", kinds.BAR, only=("browser",))
_REFUSED: Final = (Column("Place", kinds.PHRASE), Column("Because of", kinds.names(quoted=True)))
# The second "Change" is set one wider than the first, to be told apart from it.
_INSTEAD: Final = (Column("Change", kinds.PHRASE), _LOSS, Column("Change ", kinds.CHANGE), _WORD)


def place(gap: Gap) -> str:
    """Name a gap by what it follows."""
    if gap.loop:
        return f"inside '{plain(gap.loop, 30)}', {place(replace(gap, loop=''))}"
    if gap.after is None:
        return f"before {_name(gap.before)}" if gap.before is not None else "anywhere"
    if isinstance(gap.after, Cable) and gap.before is not None:
        return f"after {_name(gap.after)}, before {_name(gap.before)}"
    return f"after {_name(gap.after)}"


def _name(item: Item) -> str:
    if isinstance(item, Cable):
        return "the lead" if item.is_lead else f"the {length_text(item.length)} cable"
    return f"'{plain(item.label, 30)}'"


def places(gaps: Sequence[Gap]) -> str:
    """Name several gaps."""
    return " and ".join(place(gap) for gap in gaps)


def short_places(gaps: Sequence[Gap]) -> str:
    """Name several gaps in as few words as a plot has room for."""
    if len(gaps) == 1:
        return place(gaps[0])
    after = (gap.after for gap in gaps)
    return "after " + " + ".join(_name(item) if item is not None else "nothing" for item in after)


def sentence(report: BufferReport) -> str:
    """Return the answer in one sentence or two."""
    best = report.placements[0]
    what = "worst" if not report.views[0].name else "weighted"
    if not report.needed:
        return (
            f"The {what} treble loss is {decibel(report.now)} dB ({verdict(report.now)}); "
            f"leave the buffer out."
        )
    if report.only_spares_load:
        return (
            f"The {what} treble loss by the wiring is {decibel(report.now)} dB "
            f"({verdict(report.now)}), and needs no buffer; but "
            f"'{plain(report.board.destination.name, 30)}' itself loads the instrument: a buffer "
            f"{places(best.gaps)} gives {decibel(-report.own_cost)} dB of treble and "
            f"{decibel(report.own_level)} dB of level."
        )
    if not clearly_less(best.loss, report.now):
        return (
            f"No buffer{' outside the loops' if report.inside else ''} helps: the {what} treble "
            f"loss is {decibel(report.now)} dB ({verdict(report.now)}) and at best "
            f"{decibel(best.loss)} dB with one.{_inside_sentence(report)}"
        )
    many = len(best.gaps)
    number = {1: "One buffer", 2: "Two buffers", 3: "Three buffers"}[many]
    text = (
        f"{number} {places(best.gaps)} {'cuts' if many == 1 else 'cut'} the {what} treble loss "
        f"from {decibel(report.now)} dB ({verdict(report.now)}) to {decibel(best.loss)} dB "
        f"({verdict(best.loss)})"
    )
    return text + _next(report, many) + "." + _inside_sentence(report)


def _inside_sentence(report: BufferReport) -> str:
    """Say where inside a loop one buffer does better, although it goes when the loop does."""
    best = report.inside[0] if report.inside else None
    if best is None or not clearly_less(best.loss, report.placements[0].loss):
        return ""
    return f" One {places(best.gaps)} leaves {decibel(best.loss)} dB ({verdict(best.loss)})."


def _next(report: BufferReport, many: int) -> str:
    more = report.best_by_count.get(many + 1)
    if more is not None:
        word = {1: "a second", 2: "a third"}[many]
        gain = report.placements[0].loss - more
        return f"; {word} gains {'only ' if gain < 1 else ''}{decibel(gain)} dB more"
    if many > 1:
        return f"; one alone reaches {decibel(report.best_by_count[1])} dB"
    return ""


def document(
    report: BufferReport, instead: Sequence[Instead], noise: BufferNoise | None, *, most: int
) -> Document:
    """Return the answer, the ranked places, the refused ones and what else would do.

    Parameters
    ----------
    report : from `buffer_report`
    instead : from `instead_of_buffer`
    noise : of the first placements, None where it is not told
    most : how many placements are listed
    """
    blocks: list[Block] = [Paragraph((sentence(report),), apart=True)]
    blocks += [Paragraph(tuple(_alone(report))), _ranked(report, noise, most)]
    if noise is not None:
        blocks.append(_noise(noise))
    if any(clearly_less(report.now, placement.loss) for placement in report.placements):
        harm = (
            "In some places it does harm: with less cable the pickup's resonance moves up and out "
            "of the band, or the load that damped it is gone."
        )
        blocks.append(Paragraph((harm,), apart=True))
    return Document(TITLE, (*blocks, *_more(report, instead)))


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
    effect = "takes" if cost >= 0 else "gives"
    lines.append(
        f"The buffer alone, without any other wiring, {effect} {decibel(abs(cost))} dB of treble "
        f"and changes the level by {signed(report.own_level)} dB"
        f"{'' if cost >= 0 else ': it spares the instrument the load behind it'}."
    )
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


def _ranked(report: BufferReport, noise: BufferNoise | None, most: int) -> Table:
    hiss = (Column("Noise", kinds.CHANGE),) if noise is not None else ()
    rank = Column("", kinds.COUNT, only=("terminal",))
    changes = [(change,) for change in noise.changes[:most]] if noise is not None else [()] * most
    rows: list[Row] = [
        (n, places(placed.gaps), *_numbers(report, placed.loss), *change, placed.loss)
        for n, (placed, change) in enumerate(zip(report.placements, changes, strict=False), 1)
    ]
    now = report.now
    rows.append((BLANK, "as it is", now, BLANK, verdict(now), *[BLANK for _ in hiss], now))
    columns = (rank, _PLACE, _LOSS, _CHANGE, _WORD, *hiss, _BAR)
    return Table("The best place first", columns, rows, captioned=False)


def _more(report: BufferReport, instead: Sequence[Instead]) -> Iterator[Table]:
    """Yield the places inside loops, the refused ones, and what else would do, where there are."""
    if report.inside:
        inside = report.inside[:_MOST_INSIDE]
        rows: list[Row] = [(places(p.gaps), *_numbers(report, p.loss)) for p in inside]
        caption = "Inside a loop, where it is gone when the loop is out:"
        yield Table(caption, (_PLACE, _LOSS, _CHANGE, _WORD), rows)
    if report.refused:
        rows = [(place(gap), gap.forbidden_by or "") for gap in report.refused]
        yield Table("Refused, because a stage behind wants to see the pickup:", _REFUSED, rows)
    if instead:
        rows = [(_words(c), *_numbers(report, c.loss)) for c in instead[:_MOST_INSTEAD]]
        yield Table("Instead of a new box:", _INSTEAD, rows)


def _words(change: Instead) -> str:
    """Name a change to what is there."""
    name = f"'{plain(change.stage, 30)}'"
    if change.gap is None:
        return f"{name} with a buffered bypass"
    return f"{name} moved to {place(change.gap)}"


def as_json(report: BufferReport, instead: Sequence[Instead], noise: BufferNoise) -> str:
    """Return the report as one JSON document; plain numbers, null for none.

    The noise is known of the placements that a table would list, and null for the others.
    """
    known = [*noise.changes, *[math.nan] * (len(report.placements) - len(noise.changes))]
    values = {
        "board": report.board.name,
        "part": report.part.part,
        "count": len(report.placements[0].gaps),
        "ranked_by": [{"scene": v.name, "weight": v.weight} for v in report.views if v.name]
        or "worst of all states",
        "now_db": finite(report.now),
        "verdict": verdict(report.now),
        "needed": report.needed,
        "proven": report.proven,
        "own_cost_db": finite(report.own_cost),
        "own_level_db": finite(report.own_level),
        "noise_below_100_mv_db": finite(noise.now),
        "best_by_count_db": {str(n): finite(v) for n, v in sorted(report.best_by_count.items())},
        "placements": [
            _placement(report, rank, placement) | {"noise_change_db": finite(hiss)}
            for rank, (placement, hiss) in enumerate(zip(report.placements, known, strict=True), 1)
        ],
        "inside_loops": [
            {"loop": p.gaps[0].loop} | _placement(report, rank, p)
            for rank, p in enumerate(report.inside, 1)
        ],
        "refused": [
            {"gap": g.index, "place": place(g), "because_of": g.forbidden_by}
            for g in report.refused
        ],
        "instead": [
            {
                "kind": c.change,
                "stage": c.stage,
                "place": place(c.gap) if c.gap else None,
                "treble_loss_db": finite(c.loss),
                "change_db": finite(c.loss - report.now),
            }
            for c in instead
        ],
    }
    return json_document(values)


def _placement(report: BufferReport, rank: int, placement: Placement) -> dict[str, Any]:
    return {
        "rank": rank,
        "gaps": [gap.index for gap in placement.gaps],
        "places": [place(gap) for gap in placement.gaps],
        "treble_loss_db": finite(placement.loss),
        "change_db": finite(placement.loss - report.now),
        "verdict": verdict(placement.loss),
    }
