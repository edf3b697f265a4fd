"""The sections below the chart: what the commands say, as documents."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from sigsim.show import blame, buffer, cables, compare, hand_check, loss
from sigsim.show.check import caution_text
from sigsim.show.document import Document, Items, Paragraph
from sigsim.show.page.beside import board_names
from sigsim.show.page.figures import figures_section
from sigsim.show.power_beside import beside_document
from sigsim.show.render.browser import section
from sigsim.show.render.text import count, hertz, in_words, plain

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from sigsim.decide.page.report import ReportData

MOST_ROWS: Final = 12


def sections(data: ReportData, extra: Sequence[Mapping[str, Any]] = ()) -> list[Mapping[str, Any]]:
    """Return the sections of the page as plain values.

    Parameters
    ----------
    data : what was gathered
    extra : sections that were asked for beside the usual ones
    """
    return [
        section("loss", _loss(data)),
        section("buffer", _buffer(data)),
        section("cables", _cables(data)),
        section("blame", _blame(data)),
        *extra,
        *([section("compare", _compared(data))] if data.overlays else []),
        *([section("power", beside_document(data.power))] if data.power is not None else []),
        section("hand-check", _hand_check(data)),
        section("cautions", _cautions(data)),
        section("assumptions", _assumptions(data)),
        figures_section(data),
    ]


def _loss(data: ReportData) -> Document:
    report = data.losses
    table = loss.states_table(report, with_worst=True)
    note = loss.merged_note(report, hint="")
    answer = loss.answer(report, with_worst=True)
    return Document(loss.TITLE, (answer, table, *note, loss.explanation(report)))


def _missing(title: str, command: str, data: ReportData) -> Document:
    why = f"Left out: not possible on this board, or too large. See: sigsim {command} BOARD."
    if data.losses.worst.silent:
        why = "Nothing comes out of this board, so there is nothing to compare."
    return Document(title, (Paragraph((why,)),))


def _buffer(data: ReportData) -> Document:
    report = data.buffer
    if report is None:
        return _missing(buffer.TITLE, "buffer", data)
    tried = (
        f"The buffer tried is the part {report.part.part}, always on. The loss is the worst of all "
        "combinations, against the ideal reference."
    )
    said = buffer.document(report, data.instead, None, data.remedies, most=MOST_ROWS)
    return Document(said.title, (*said.blocks, Paragraph((tried,), quiet=True)))


def _cables(data: ReportData) -> Document:
    report = data.cables
    if report is None:
        return _missing(cables.TITLE, "cables", data)
    tried = "Each cable takes the place of all pieces of one name."
    said = cables.document(report, scenes=False, hint="")
    return Document(said.title, (*said.blocks, Paragraph((tried,), quiet=True)))


def _blame(data: ReportData) -> Document:
    if data.blame is None:
        return _missing(blame.TITLE, "blame", data)
    return blame.document(data.blame, every=False, explain=True, hint="")


def _compared(data: ReportData) -> Document:
    reports = (data.losses, *(other.report for other in data.overlays))
    named = list(zip(board_names(data, 80), reports, strict=True))
    sentences = [
        f"{plain(name, 60)}: {loss.sentence(report.worst, report.basis)}" for name, report in named
    ]
    tables = [loss.states_table(report, with_worst=True, caption=name) for name, report in named]
    said = [*sentences]
    if data.compared is not None:
        said = [compare.sentence(data.compared), *sentences, *compare.remarks(data.compared)]
    return Document("Compared with", (Paragraph(tuple(said)), *tables))


def _hand_check(data: ReportData) -> Document:
    table = hand_check.hand_check(data.losses, with_worst=True, most=MOST_ROWS)
    return Document("Hand check", (hand_check.hand_meaning(), table))


def _cautions(data: ReportData) -> Document:
    found = [caution_text(caution) for caution in data.cautions]
    none = Paragraph(("Nothing that an experienced player would ask about.",))
    always = (
        "Do not open an amplifier to measure it: even unplugged it can hold dangerous voltages. "
        "Leave mains and valve circuits to a licensed person; local rules come first.",
        "Turn down before you change a connection, and before comparing by ear.",
    )
    return Document("Cautions", (*([] if found else [none]), Items((*found, *always))))


def _assumptions(data: ReportData) -> Document:
    board, losses = data.question.board, data.losses
    low, high = (hertz(f) for f in losses.basis.band)
    switches = count(len(board.switches()), "switch", "switches")
    found = "worst of all combinations" if losses.proven else "worst that was found"
    lines = (
        "Everything is linear, with small signals and steady tones. A distorting pedal counts by "
        "its input and output only; what it does to the waveform is its purpose.",
        f"The reference is {loss.REFERENCES[losses.basis.reference]}: everything that is off and "
        "every side cable is absent.",
        f"Treble loss: the mean of the loss at the third-octave centres from {low} to {high} "
        "(IEC 61260-1) less the loss at 100 Hz. In words (common practice, no source): "
        f"{in_words()}.",
        "The corner is the lowest frequency above which the sound stays 3.01 dB under its level at "
        "100 Hz, up to 40 kHz. A resonance is at least 0.1 dB over the level at 100 Hz.",
        "A cable is a uniform line with a plug at each end. A pedal with true bypass is, while "
        "off, a switch contact and a little wiring; with a buffered bypass it is a buffer.",
        "All pickups of an instrument carry the same signal in phase.",
        f"The board has {switches}; the worst shown is the {found}.",
        "Figures without a source in a measurement are typical ones; see below.",
    )
    return Document("What is assumed", (Items(lines),))
