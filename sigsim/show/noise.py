"""The noise report as a document and as JSON."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final

from sigsim.board.state import ALL_OFF_TITLE
from sigsim.decide.folding import unfolded
from sigsim.decide.noise import WORDS, Totals, dbv
from sigsim.metrics import AUDIBLE_HZ
from sigsim.show import kinds
from sigsim.show.document import Column, Document, Group, Paragraph, Table
from sigsim.show.ends import at_end, at_value, ended, why_silent
from sigsim.show.folds import HINT, joined, merged_note
from sigsim.show.power_words import joined_words
from sigsim.show.render.json import finite, json_document
from sigsim.show.render.text import decibel, listed, plain
from sigsim.units import render

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from sigsim.decide.folding import Fold
    from sigsim.decide.noise import NoiseReport, Share, StateNoise
    from sigsim.show.document import Cell, Row

TITLE: Final = "How much does it hiss?"
_TOTALS: Final = (
    Column("Combination", kinds.NAME),
    Column("flat", kinds.LOSS, "flat (dBV)", rank=6),
    Column("A", kinds.LOSS, "A (dBV)", rank=5),
    Column("under", kinds.LOSS, rank=0),
    Column("", kinds.WORD, "In a word", rank=1),
    Column("ref. flat", kinds.LOSS, "ref. flat (dBV)", rank=9),
    Column("ref. A", kinds.LOSS, "ref. A (dBV)", rank=8),
    Column("ref. under", kinds.LOSS, rank=7),
)
_SHARES: Final = (
    Column("Combination and part", kinds.PHRASE),
    Column("flat", kinds.PERCENT),
    Column("A-weighted", kinds.PERCENT),
)

_EXPLANATION: Final = """\
dBV: decibels over 1 V, 20 Hz to 20 kHz. Flat counts all of it alike, A weighs it as the ear does.
Under: how far the A-weighted noise lies below {level}, a nominal level at the same place: {words}.
Referred to the instrument: the noise that would have to be in the pickup to be as loud at the \
amp, frequency by frequency. It is what to compare boards by, because it does not change \
with a gain that lifts signal and noise alike.
Noisy are, at {temperature:g} K, all resistances and all losses (4kT·Re Z), and the pedals by \
their input_noise_voltage and input_noise_current. What a player hears besides, hum and \
crackle and the noise of the amplifier itself, is not in it."""


def document(
    report: NoiseReport, *, explain: bool, every: bool = False, every_hint: str = HINT
) -> Document:
    """Return the sentence, the totals, and who makes the noise.

    Parameters
    ----------
    report : from `noise_report`
    explain : whether the meaning of the columns is told
    every : whether states that are the same have a row each
    every_hint : how to see each row, empty where it cannot be asked for
    """
    folds = unfolded(report.states) if every else report.merged
    hint = ("--explain says what the columns mean.",)
    return Document(
        TITLE,
        (
            Paragraph((sentence(report), " ".join(_figures(report))), apart=True),
            _totals(report, folds),
            _shares(report, folds),
            *merged_note(folds, every_hint),
            *_hum(report),
            Paragraph(_explanation(report) if explain else hint, quiet=True),
        ),
    )


def _hum(report: NoiseReport) -> Iterator[Paragraph]:
    """Yield what the supplies may add, which no figure here knows."""
    if report.joined:
        yield Paragraph(tuple(map(joined_words, report.joined)), apart=True)


def sentence(report: NoiseReport) -> str:
    """Return the first sentence: how loud it hisses at worst, and who makes the most of it."""
    return at_end(report.board, _sentence(report))


def _sentence(report: NoiseReport) -> str:
    state = report.noisiest
    noise = state.destination.a_weighted
    which = f"'{plain(state.state.title, 40)}'" if state.state.on else ALL_OFF_TITLE
    destination = plain(report.board.end.name, 30)
    why = why_silent(report.board, state.state.on)
    if not noise > 0:
        return ended(f"No noise at all reaches the {destination} with {which}: {why}")
    loudest = state.shares[0]
    silent = f"{ended(f'No signal gets through, {why}')} What is heard is noise alone. "
    return (
        f"{'' if math.isfinite(state.instrument.flat) else silent}Noisiest with {which}: "
        f"{decibel(dbv(noise))} dBV (A-weighted) reach the {destination}, "
        f"{decibel(report.below(noise))} dB under {render(report.level, 'V')} "
        f"({report.verdict(state)}); the largest part comes from {_named(loudest)} "
        f"({kinds.PERCENT.text(loudest.a_weighted)} %)."
    )


def _named(share: Share) -> str:
    kind, name = share.who
    if kind == "instrument":
        return "the " + name
    if kind == "split":
        return f"the split '{plain(name, 30)}'"
    if kind == "way":
        return plain(name, 50)
    return name if kind == "cables" else f"'{plain(name, 30)}'"


def _figures(report: NoiseReport) -> Iterator[str]:
    """Say which stages are taken to be quieter than they are."""
    if report.quiet:
        yield (
            "Without noise figures, so that only their resistances count: "
            f"{listed(report.quiet)}. Their input_noise_voltage and input_noise_current would "
            "make this complete."
        )
    for key, names in report.incomplete.items():
        yield f"Without {key}, which counts as nothing: {listed(names)}."
    if not report.quiet and not report.incomplete:
        yield "Every pedal in the signal's way has its noise figures."


def _totals(report: NoiseReport, folds: Sequence[Fold[StateNoise]]) -> Table:
    def levels(totals: Totals) -> tuple[Cell, ...]:
        return dbv(totals.flat), dbv(totals.a_weighted), report.below(totals.a_weighted)

    rows = [
        (joined(fold), *levels(s.destination), report.verdict(s), *levels(s.instrument))
        for fold in folds
        for s in [fold.first]
    ]
    caption = f"dBV at the {_end(report)}, and referred to the instrument (ref.)"
    return Table(caption, _TOTALS, rows)


def _shares(report: NoiseReport, folds: Sequence[Fold[StateNoise]]) -> Table:
    rows: list[Row] = []
    for fold in folds:
        state, name = fold.first, joined(fold)
        rows.append(Group(plain(name.name, 60) + name.after))
        rows += [(_row_name(share), share.flat, share.a_weighted) for share in state.told]
        rows += [("the rest", *state.rest)] if state.rest else []
    caption = f"Who makes it: parts of the noise power at the {_end(report)} in %"
    return Table(caption, _SHARES, rows)


def _end(report: NoiseReport) -> str:
    """Return what the destination is called in a caption: by its own name where there are several.

    A board has one amp, whatever it is called, unless a split leads to another.
    """
    board = report.board
    return "amp" if len(board.ends) == 1 else plain(board.end.name, 30)


def _row_name(share: Share) -> str:
    kind, name = share.who
    return f"split '{plain(name, 50)}'" if kind == "split" else plain(name, 58)


def _explanation(report: NoiseReport) -> tuple[str, ...]:
    words = [f"{word} under {limit:g} dB" for limit, word in WORDS[:-1]] + [WORDS[-1][1] + " over"]
    text = _EXPLANATION.format(
        level=render(report.level, "V"), words=", ".join(words), temperature=report.temperature
    )
    return tuple(text.splitlines())


def as_json(report: NoiseReport) -> str:
    """Return the report as one JSON document; plain numbers in SI units, null for none."""
    values = {
        "board": report.board.name,
        **at_value(report.board),
        "level_v": report.level,
        "temperature_k": report.temperature,
        "band_hz": list(AUDIBLE_HZ),
        "states": [_state_values(report, state) for state in report.states],
        "shared_supplies": [
            {"supply": joined.where, "stages": list(joined.names)} for joined in report.joined
        ],
    }
    return json_document(values)


def _state_values(report: NoiseReport, state: StateNoise) -> dict[str, Any]:
    return {
        "name": state.state.name,
        "on": list(state.state.on),
        "destination": _totals_document(report, state.destination),
        "instrument": _totals_document(report, state.instrument),
        "verdict": report.verdict(state),
        "contributions": [
            {
                "kind": share.who.what,
                "name": share.who.name,
                "percent_flat": 100 * share.flat,
                "percent_a_weighted": 100 * share.a_weighted,
            }
            for share in state.shares
        ],
        "without_noise_figures": list(state.quiet),
        "one_noise_figure_missing": dict(state.incomplete),
    }


def _totals_document(report: NoiseReport, totals: Totals) -> dict[str, float | None]:
    values: dict[str, float | None] = {}
    for name, volts in totals._asdict().items():
        values[f"{name}_v"] = finite(volts)
        values[f"{name}_dbv"] = finite(dbv(volts))
        values[f"{name}_below_level_db"] = finite(report.below(volts))
    return values
