"""What was heard as a document and as JSON."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final

from sigsim.show import kinds
from sigsim.show.document import Column, Document, Paragraph, Table
from sigsim.show.ends import at_end, at_value, ended, why_silent
from sigsim.show.loss import LOSSES, NUMBERS, lost_or_gained, louder
from sigsim.show.render.json import finite, json_document
from sigsim.show.render.text import decibel, hertz, plain, signed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sigsim.audio.report import Listening
    from sigsim.show.document import Cell

TITLE: Final = "What was heard"
_MEANING: Final = {
    "processed": "through the chain",
    "reference": "the reference",
    "lost": "what was lost: the reference less the other",
}
_COLUMNS: Final = (
    Column("Against", kinds.names(32, 60)),
    Column("Louder", kinds.CHANGE),
    *LOSSES,
    *NUMBERS[:2],
    Column("In this take", kinds.LOSS),
)


def as_json(heard: Listening) -> str:
    """Return what was heard as one JSON document; plain numbers in SI units, null for none."""
    recording, report, levels = heard.recording, heard.report, heard.levels
    values: dict[str, Any] = {
        "board": heard.board.name,
        **at_value(heard.board),
        "state": heard.state.name,
        "on": list(heard.state.on),
        "recorded_through": heard.reference,
        "input": {
            "file": str(recording.path),
            "sample_rate_hz": recording.rate,
            "channels": recording.channels,
            "samples": recording.frames,
            "duration_s": recording.seconds,
            "format": recording.container,
            "subtype": recording.subtype,
        },
        "files": {role: str(path) for role, path in heard.files.items()},
        "level_change_db": finite(report.level),
        "treble_loss_db": finite(report.treble_loss),
        "verdict": report.verdict,
        "loss_db": {f"{f:.0f}": finite(loss) for f, loss in report.losses.items()},
        "loss_in_take_above_2000_hz_db": finite(heard.loss_in_take),
        "match_level_gain_db": finite(levels.matched_db),
        "scale_db": finite(levels.scale_db),
        "filter": {
            "taps": int(heard.filter.taps.size),
            "latency_samples": 0,
            "highest_hz": heard.filter.edge * recording.rate,
            "level_error_db": finite(heard.filter.level_error),
            "phase_error_deg": finite(heard.filter.phase_error),
            "model_followed_to_hz": heard.edge,
            "widest_level_error_db": finite(heard.filter.widest_level_error),
            "widest_phase_error_deg": finite(heard.filter.widest_phase_error),
            "gain_above_highest_db": finite(heard.filter.above_edge),
        },
    }
    return json_document(values)


def document(heard: Listening) -> Document:
    """Return the sentence, the table, what was done to the level, and the files."""
    files = (f"{_MEANING[part]}: {plain(str(path), 70)}" for part, path in heard.files.items())
    after = (
        *_levels(heard),
        *files,
        "Start quietly: what is compared may be louder than you expect.",
    )
    return Document(TITLE, (Paragraph((sentence(heard),)), _table(heard), Paragraph(after)))


def sentence(heard: Listening) -> str:
    """Return the first sentence: what this take loses, and how the chain is called."""
    return at_end(heard.board, _sentence(heard))


def _sentence(heard: Listening) -> str:
    take, state = plain(heard.recording.path.name, 30), plain(heard.state.title, 40)
    report, loss = heard.report, heard.loss_in_take
    if report.verdict == "silent":
        why = why_silent(heard.board, heard.state.on)
        why = f"{why[:1].upper()}{why[1:]}"
        return ended(f"'{take}' through '{state}': nothing comes out. {why}")
    if loss is None:
        in_take = "this take has next to nothing above 2 kHz"
    else:
        done = "gained" if decibel(loss).startswith("-") else "lost"
        in_take = f"in this take {decibel(abs(loss))} dB {done} above 2 kHz"
    whole = f"{lost_or_gained(report.treble_loss)} ({report.verdict})"
    return f"'{take}' through '{state}': {in_take}; {whole}{louder(report.level)}."


def _table(heard: Listening) -> Table:
    report, loss = heard.report, heard.loss_in_take
    half = heard.recording.rate / 2
    row: tuple[Cell, ...] = (
        heard.reference_title,
        report.level,
        *(lost if f < half else math.nan for f, lost in report.losses.items()),
        report.treble_loss,
        report.verdict,
        math.nan if loss is None else loss,
    )
    return Table("What the chain loses", _COLUMNS, [row], captioned=False)


def _levels(heard: Listening) -> Iterator[str]:
    levels, loss = heard.levels, heard.loss_in_take
    if levels.matched != 1.0:
        line = f"Through the chain {signed(levels.matched_db)} dB, so that both are equally loud"
        if loss is not None:
            differ = decibel(abs(loss - levels.matched_db))
            line += f": the files then differ by {differ} dB above 2 kHz"
        yield f"{line}."
    if levels.scale != 1.0:
        what = "Everything" if len(heard.files) > 1 else "The result"
        yield f"{what} {signed(levels.scale_db, 2)} dB, so that nothing clips."


def notes(heard: Listening) -> list[str]:
    """Return what should be known about the filter, for standard error."""
    filter_, found, edge = heard.filter, [], heard.edge
    recording = heard.recording
    if not filter_.keeps_promise:
        found.append(
            f"the filter follows the model within {filter_.level_error:.2f} dB and "
            f"{filter_.phase_error:.1f} degrees up to {hertz(filter_.edge * recording.rate)}, "
            f"within {filter_.widest_level_error:.2g} dB and {filter_.widest_phase_error:.2g} "
            f"degrees up to {hertz(edge)}, lest it be shrill above"
        )
        if not heard.follows_what_is_heard:
            found.append("a recording at 44.1 kHz or more keeps this above what is heard")
    if len(heard.files) > 1 and recording.is_lossy:
        found.append(
            f"{recording.container} keeps only what is heard, so that these files are not exact; "
            "for --difference take WAV or FLAC"
        )
    if any(one.peak * heard.levels.scale > 1 for one in heard.levels.extremes.values()):
        found.append("this recording itself goes over full scale, and so does what is written")
    return found
