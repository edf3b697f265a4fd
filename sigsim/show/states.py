"""All states as a document and as JSON."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final

from sigsim.board.state import ALL_OFF_TITLE
from sigsim.metrics import LEVEL_SAID_DB, verdict
from sigsim.show import kinds
from sigsim.show.document import Column, Document, Paragraph, Table
from sigsim.show.ends import at_end, ended, why_silent
from sigsim.show.folds import and_more, folded_note
from sigsim.show.loss import REFERENCES, asked, numbers, state_values, unproven
from sigsim.show.render.json import finite, json_document
from sigsim.show.render.text import count, decibel, hertz, in_words, listed, plain, signed

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from sigsim.board.state import On
    from sigsim.decide.folding import Fold
    from sigsim.decide.loss.report import StateReport
    from sigsim.decide.states.report import Effect, StatesReport, Summary
    from sigsim.show.document import Block

# To so many digits it is said how near medians are [dB], up to so many states they are counted.
_ERROR_DIGITS: Final = 3
_MOST_READ: Final = 1 << 24
_MOST_DIGITS: Final = 10**21
_EXPLANATION: Final = """\
The number in front is the rank among all combinations; a row that stands for more takes their \
ranks too.
Level: at 100 Hz, over what the pickup gives. 4k: the loss at 4 kHz, how much weaker than the \
reference in dB; a minus means stronger. The reference is {reference}.
Treble: the mean loss at the third-octave centres from {low} to {high} less that at \
100 Hz: {words}.
Corner: above it the sound stays 3 dB under its 100 Hz level. Resonance: the pickup's peak, and \
its height over the 100 Hz level.
Median off → on: half of all combinations with this switch off lose at most so much treble, and \
half of those with it on; change is the second less the first, so that a minus means that \
switching it on saves treble. Worst off → on: the same of the combination that loses most."""

_RANKED: Final = (
    Column("", kinds.COUNT, "Rank", rank=7),
    Column("On", kinds.PHRASE),
    Column("Level", kinds.CHANGE, rank=3),
    Column("4k", kinds.LOSS, rank=4),
    Column("Treble", kinds.LOSS, rank=0),
    Column(" ", kinds.WORD, "In a word", rank=1),
    Column("Corner", kinds.SHORT_HERTZ, rank=5),
    Column("Resonance", kinds.PEAK, rank=6),
)
_EFFECTS: Final = (
    Column("Switch", kinds.names(30)),
    Column("Median off", kinds.LOSS),
    Column("on", kinds.LOSS),
    Column("change", kinds.CHANGE),
    Column("Worst off", kinds.LOSS),
    Column("on ", kinds.LOSS),
    Column("change ", kinds.CHANGE),
)


def document(report: StatesReport, *, explain: bool = False) -> Document:
    """Return the sentence, the summary, the ranked states and what each switch does.

    Parameters
    ----------
    report : from `states_report`
    explain : whether the meaning of the columns is
    """
    by = report.question.by
    names = {"treble": "treble loss", "corner": "corner", "level": "level"}
    measure = names[by] if isinstance(by, str) else f"loss at {hertz(by)}"
    blocks: list[Block] = [
        Paragraph((sentence(report),), apart=True),
        Paragraph(tuple(_summary(report)), apart=True),
        _ranked(f"Worst by {measure}:", report, report.top, report.top_folds),
        _ranked(f"Best by {measure}:", report, report.best, report.best_folds),
        *folded_note((*report.top_folds, *report.best_folds)),
    ]
    if report.effects:
        blocks.append(_effects(report))
    more = "--explain says what the columns mean."
    blocks.append(explanation(report) if explain else Paragraph((more,), quiet=True))
    return Document("Every combination", tuple(blocks))


def sentence(report: StatesReport) -> str:
    """Return the first sentence: how much treble half of all states lose, and the worst."""
    return at_end(report.question.board, _sentence(report))


def _sentence(report: StatesReport) -> str:
    summary, share = report.summary, 100 * report.clear
    if not math.isfinite(summary.median):
        why = why_silent(report.question.board, ())
        return ended(f"Nothing comes out in any combination: {why}")
    if decibel(summary.best) == decibel(summary.worst):
        alike = "The one combination loses" if report.total == 1 else "All combinations lose"
        loss = f"{decibel(summary.worst)} dB of treble ({verdict(summary.worst)})"
        return f"{alike} {loss}{_levels(summary)}."
    few = "none" if not share else f"{share:.0f} % of all" if share >= 1 else "under 1 % of all"
    return (
        f"Half of all combinations lose {decibel(summary.median)} dB of treble at most "
        f"({verdict(summary.median)}), {few} more than 3 dB, the worst "
        f"{decibel(summary.worst)} dB ({verdict(summary.worst)}){_levels(summary)}."
    )


def _levels(summary: Summary) -> str:
    """Say between which levels the states lie, where that must be known beside a treble loss."""
    low, high = summary.levels
    if not high - low >= LEVEL_SAID_DB:
        return ""
    return f"; their level lies between {signed(low)} and {signed(high)} dB"


def _summary(report: StatesReport) -> Iterator[str]:
    question, summary = report.question, report.summary
    held = [plain(f"{n} {'on' if on else 'off'}", 40) for n, on in (question.fixed or {}).items()]
    if held:
        yield f"Held: {', '.join(held)}."
    varying = count(len(question.varying()), "switch", "switches")
    yield f"{varying}, {_how_many(report.total)}."
    if report.sampled is not None:
        proven = "Best, worst and those ranked are exact; the rest of this is from "
        drawn = f"{report.sampled:,} combinations drawn at random (seed {question.seed})"
        yield (
            f"{proven if report.proven else 'This summary is from '}{drawn}"
            f"{_within(summary.error, ', 99.9 % sure')}."
        )
    elif summary.error:
        yield f"All of them are counted, by sums{_within(summary.error)}."
    if math.isfinite(summary.median):
        yield (
            f"Treble loss: best {decibel(summary.best)} dB, median {decibel(summary.median)} dB, "
            f"95 % within {decibel(summary.most)} dB, worst {decibel(summary.worst)} dB."
        )
    yield f"{_words(report)}."
    if report.corners_sampled is not None:
        drawn = f"{report.corners_sampled:,} combinations drawn at random (seed {question.seed})"
        yield f"Corners are those of {drawn}: there may be lower and higher ones."
    if summary.below is not None and question.below is not None:
        of_these = "" if report.corners_sampled is None else " of these"
        number = count(summary.below, "combination")
        yield f"Corner below {hertz(question.below)}: {number}{of_these}."
    if not report.proven and report.corners_sampled is None:
        yield _unproven(report)
    if not report.switches_proven:
        yield "The time was up for the worst of each switch: they may be larger than it says."


def _how_many(states: int) -> str:
    """Count the states; of very many only how many digits they have."""
    if states < _MOST_DIGITS:
        return count(states, "different combination")
    digits = len(str(states)) - 1
    return f"about {states / 10**digits:.1f}·10^{digits} different combinations"


def _within(error: float, sure: str = "") -> str:
    """Say how near medians are."""
    if not math.isfinite(error):
        return ""
    least = 10.0**-_ERROR_DIGITS
    return f"; medians are within {max(least, error):.{_ERROR_DIGITS}f} dB{sure}"


def _words(report: StatesReport) -> str:
    """Count the states by their words, in per cent where these are more than one reads."""
    summary = report.summary
    words = summary.words | ({"silent": summary.silent} if summary.silent else {})
    total = sum(words.values())
    if total <= _MOST_READ:
        return ", ".join(f"{number:,} {word}" for word, number in words.items())
    shares = {word: 100 * number / total for word, number in words.items() if number}
    return ", ".join(
        f"{share:.0f} % {word}" if share >= 1 else f"under 1 % {word}"
        for word, share in shares.items()
    )


def _unproven(report: StatesReport) -> str:
    """Say what is left open where the time was up."""
    question, found = report.question, report.found
    if not math.isfinite(report.bound):
        return (
            f"The time was up ({question.seconds:g} s): these lists are of what was found by then; "
            "--seconds gives it more."
        )
    if question.by == "level":
        return (
            f"The time was up: the softest found is at {signed(found)} dB, and none is softer "
            f"than {signed(report.bound)} dB."
        )
    at = "" if isinstance(question.by, str) else f" at {hertz(question.by)}"
    return unproven(found, report.bound, at)


def _ranked(
    caption: str, report: StatesReport, states: Sequence[StateReport], folds: Sequence[Fold[On]]
) -> Table:
    rows = [
        (f.rank, _on_or_off(s.state.on, report.off(s)) + and_more(f), s.level, s.losses[4000.0],
         *numbers(s))
        for s, f in zip(states, folds, strict=True)
    ]  # fmt: skip
    return Table(caption, _RANKED, rows)


def explanation(report: StatesReport) -> Paragraph:
    """Return what the columns mean."""
    basis = report.question.basis
    low, high = (hertz(f) for f in basis.band)
    text = _EXPLANATION.format(
        reference=REFERENCES[basis.reference], low=low, high=high, words=in_words()
    )
    return Paragraph(tuple(text.splitlines()), quiet=True)


def _on_or_off(on: tuple[str, ...], off: tuple[str, ...]) -> str:
    """Name what is on or, where that is shorter, what is off."""
    if not on:
        return ALL_OFF_TITLE
    if len(on) == 1:
        return listed(on, "")
    if not off:
        return "everything"
    return listed(on, "") if len(on) <= len(off) else f"all but {listed(off, '')}"


def _effects(report: StatesReport) -> Table:
    drawn = "" if report.sampled is None else ", in the drawn combinations"
    caption = f"What matters most: the treble loss with each thing on instead of off{drawn}"
    return Table(caption, _EFFECTS, [(e.name, *_changes(e).values()) for e in report.effects])


def _changes(e: Effect) -> dict[str, float]:
    """Return the numbers of a switch under their keys in JSON, in the order of the table."""
    return {
        "median_off_db": e.median_off,
        "median_on_db": e.median_on,
        "median_change_db": e.median_change,
        "worst_off_db": e.worst_off,
        "worst_on_db": e.worst_on,
        "worst_change_db": e.worst_change,
    }


def as_json(report: StatesReport) -> str:
    """Return the report as one JSON document; plain numbers in SI units, null for none."""
    question, summary = report.question, report.summary
    sampled = report.corners_sampled if report.sampled is None else report.sampled
    values = {
        **asked(question.board, question.basis),
        "by": question.by,
        "states_total": report.total,
        "switchable": list(question.board.switches()),
        "held": dict(question.fixed or {}),
        "sampled": sampled,
        "seed": question.seed if sampled is not None else None,
        "proven": report.proven,
        "switches_proven": report.switches_proven,
        "bound_db": finite(report.bound),
        "error_db": finite(summary.error),
        "summary": {
            "best_db": finite(summary.best),
            "median_db": finite(summary.median),
            "p95_db": finite(summary.most),
            "worst_db": finite(summary.worst),
            "lowest_level_db": finite(summary.levels[0]),
            "highest_level_db": finite(summary.levels[1]),
            **summary.words,
            "silent": summary.silent,
            "below_hz": question.below,
            "below": summary.below,
        },
        "top": [_ranked_document(report, n, state) for n, state in enumerate(report.top, 1)],
        "best": [_ranked_document(report, n, state) for n, state in enumerate(report.best, 1)],
        "switches": [
            {"name": e.name} | {key: finite(value) for key, value in _changes(e).items()}
            for e in report.effects
        ],
    }
    return json_document(values)


def _ranked_document(report: StatesReport, rank: int, state: StateReport) -> dict[str, Any]:
    off = list(report.off(state))
    return {"rank": rank, "on": list(state.state.on), "off": off} | state_values(state)
