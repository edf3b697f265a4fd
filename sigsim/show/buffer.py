"""Where a buffer goes, as words, tables and JSON."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from sigsim.items.cable import Cable
from sigsim.metrics import verdict
from sigsim.show.lengths import metres
from sigsim.show.render.text import decibel, finite, plain, row, show, signed, table

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sigsim.decide.buffer.gaps import Gap
    from sigsim.decide.buffer.instead import Instead
    from sigsim.decide.buffer.noise import BufferNoise
    from sigsim.decide.buffer.report import BufferReport, Placement
    from sigsim.items.base import Item

# Under this a change is not worth a box: half of what is just noticed.
LITTLE_DB = 0.25
_MOST_INSIDE = 6


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
        lead = "the lead" if item.is_lead else f"the {metres(float(item.length))} cable"
        return lead
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
    if report.now < 1 and -report.own_cost - max(report.own_level, 0.0) >= 1:
        return (
            f"The {what} treble loss by the wiring is {decibel(report.now)} dB "
            f"({verdict(report.now)}), and needs no buffer; but "
            f"'{plain(report.board.destination.name, 30)}' itself loads the instrument: a buffer "
            f"{places(best.gaps)} gives {decibel(-report.own_cost)} dB of treble and "
            f"{decibel(report.own_level)} dB of level."
        )
    if report.now < 1:
        return (
            f"The {what} treble loss is {decibel(report.now)} dB ({verdict(report.now)}); "
            f"leave the buffer out."
        )
    if best.loss > report.now - LITTLE_DB:
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
    if not report.inside or not report.inside[0].loss < report.placements[0].loss - LITTLE_DB:
        return ""
    best = report.inside[0]
    return f" One {places(best.gaps)} leaves {decibel(best.loss)} dB ({verdict(best.loss)})."


def _next(report: BufferReport, many: int) -> str:
    more = report.best_by_count.get(many + 1)
    if more is not None:
        word = {1: "a second", 2: "a third"}[many]
        gain = report.placements[0].loss - more
        return (
            f"; {word} gains only {decibel(gain)} dB more"
            if gain < 1
            else (f"; {word} gains {decibel(gain)} dB more")
        )
    if many > 1:
        return f"; one alone reaches {decibel(report.best_by_count[1])} dB"
    return ""


def print_report(report: BufferReport, instead: Sequence[Instead], noise: BufferNoise) -> None:
    """Print the sentence, the ranked places, the refused ones and what else would do.

    Parameters
    ----------
    report : from `buffer_report`
    instead : from `instead_of_buffer`
    noise : of the first placements; only these are listed
    """
    show(sentence(report), "")
    if report.views[0].name:
        weights = ", ".join(f"{plain(v.name, 20)} × {v.weight:g}" for v in report.views)
        show(f"The mean over the scenes: {weights}.")
    cost = report.own_cost
    effect = "takes" if cost >= 0 else "gives"
    show(
        f"The buffer alone, without any other wiring, {effect} {decibel(abs(cost))} dB of treble "
        f"and changes the level by {signed(report.own_level)} dB"
        f"{'' if cost >= 0 else ': it spares the instrument the load behind it'}."
    )
    show(_ranked(report, noise))
    show(
        "Noise: how much more (+) or less (-) hiss comes out, in dB, A-weighted, with every stage "
        f"off. As it is, it lies {decibel(noise.now, 0)} dB under a signal of 100 mV "
        f"({noise.word}).",
        "",
    )
    if any(p.loss > report.now + LITTLE_DB for p in report.placements):
        show(
            "In some places it does harm: with less cable the pickup's resonance moves up and out "
            "of the band, or the load that damped it is gone.",
            "",
        )
    if report.inside:
        show("Inside a loop, where it is gone when the loop is out:", _inside(report))
    if report.refused:
        show("Refused, because a stage behind wants to see the pickup:", _refused(report))
    if instead:
        show("Instead of a new box:", _instead(report, instead[:6]))


def _ranked(report: BufferReport, noise: BufferNoise) -> Any:
    columns = ["", "Buffer", "Loss", "Change", " ", "Noise"]
    made = table(columns, names=("Buffer",), words=(" ",))
    for rank, (placement, hiss) in enumerate(
        zip(report.placements, noise.changes, strict=False), 1
    ):
        numbers = _numbers(report, placement.loss)
        row(made, f"{rank}", places(placement.gaps), *numbers, signed(hiss))
    row(made, "", "as it is", decibel(report.now), "", verdict(report.now), "")
    return made


def _inside(report: BufferReport) -> Any:
    made = table(["Buffer", "Loss", "Change", " "], names=("Buffer",), words=(" ",))
    for placement in report.inside[:_MOST_INSIDE]:
        row(made, places(placement.gaps), *_numbers(report, placement.loss))
    return made


def _numbers(report: BufferReport, loss: float) -> tuple[str, str, str]:
    return decibel(loss), signed(loss - report.now), verdict(loss)


def _refused(report: BufferReport) -> Any:
    made = table(["Place", "Because of"], names=("Place", "Because of"))
    for gap in report.refused:
        row(made, place(gap), f"'{plain(gap.forbidden_by or '', 40)}'")
    return made


def _instead(report: BufferReport, instead: Sequence[Instead]) -> Any:
    made = table(["Change", "Loss", "Change ", " "], names=("Change",), words=(" ",))
    for change in instead:
        row(made, instead_words(change), *_numbers(report, change.loss))
    return made


def instead_words(change: Instead) -> str:
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
    document = {
        "board": report.board.name,
        "part": report.part.part,
        "count": len(report.placements[0].gaps),
        "ranked_by": [{"scene": v.name, "weight": v.weight} for v in report.views if v.name]
        or "worst of all states",
        "now_db": finite(report.now),
        "verdict": verdict(report.now),
        "needed": report.now >= 1 or -report.own_cost - max(report.own_level, 0.0) >= 1,
        "own_cost_db": finite(report.own_cost),
        "own_level_db": finite(report.own_level),
        "noise_below_100_mv_db": finite(noise.now),
        "best_by_count_db": {str(n): finite(v) for n, v in sorted(report.best_by_count.items())},
        "placements": [
            _document(report, rank, placement) | {"noise_change_db": finite(hiss)}
            for rank, (placement, hiss) in enumerate(zip(report.placements, known, strict=True), 1)
        ],
        "inside_loops": [
            {"loop": p.gaps[0].loop} | _document(report, rank, p)
            for rank, p in enumerate(report.inside, 1)
        ],
        "refused": [
            {"gap": g.index, "place": place(g), "because_of": g.forbidden_by}
            for g in report.refused
        ],
        "instead": [
            {
                "kind": c.kind,
                "stage": c.stage,
                "place": place(c.gap) if c.gap else None,
                "treble_loss_db": finite(c.loss),
                "change_db": finite(c.loss - report.now),
            }
            for c in instead
        ],
    }
    return json.dumps(document, ensure_ascii=False, indent=2, allow_nan=False)


def _document(report: BufferReport, rank: int, placement: Placement) -> dict[str, Any]:
    return {
        "rank": rank,
        "gaps": [gap.index for gap in placement.gaps],
        "places": [place(gap) for gap in placement.gaps],
        "treble_loss_db": finite(placement.loss),
        "change_db": finite(placement.loss - report.now),
        "verdict": verdict(placement.loss),
    }
