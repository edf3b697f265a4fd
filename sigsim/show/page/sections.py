"""The sections below the chart: every answer of the program as sentences and tables."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any, Final

from sigsim.metrics import WORDS
from sigsim.show.buffer import instead_words, places
from sigsim.show.buffer import sentence as buffer_sentence
from sigsim.show.cables import sentence as cables_sentence
from sigsim.show.check import caution_text
from sigsim.show.loss import sentence as loss_sentence
from sigsim.show.page.blocks import Section, Table
from sigsim.show.page.data import board_names
from sigsim.show.page.figures import figures_section
from sigsim.show.render.text import count, decibel, hertz, peak, plain, short_hertz, signed
from sigsim.units import render

if TYPE_CHECKING:
    from sigsim.decide.cables.report import RoleReport
    from sigsim.decide.loss.report import LossReport, StateReport
    from sigsim.decide.page.report import ReportData

MOST_ROWS: Final = 12
LOSS_COLUMNS: Final = (
    "State", "Level (dB)", "1 kHz", "2 kHz", "4 kHz", "8 kHz", "Treble (dB)", "In a word",
    "Corner (Hz)", "Resonance",
)  # fmt: skip
_LOSS_NUMBERS: Final = (1, 2, 3, 4, 5, 6, 8, 9)


def sections(data: ReportData, extra: Sequence[Section] = ()) -> list[dict[str, Any]]:
    """Return the sections of the page as plain values.

    Parameters
    ----------
    data : what was gathered
    extra : sections that were asked for beside the usual ones
    """
    made = [_loss(data), _buffer(data), _cables(data), _blame(data), *extra]
    made += [_compared(data)] if data.overlays else []
    made += [_hand_check(data), _cautions(data), _assumptions(data), figures_section(data)]
    return [asdict(section) for section in made]


def loss_row(name: str, state: StateReport) -> tuple[str, ...]:
    """Return one state as `sigsim loss` prints it."""
    return (
        name,
        signed(state.level_change),
        *(decibel(loss) for loss in state.losses.values()),
        decibel(state.treble_loss),
        state.verdict,
        short_hertz(state.corner),
        peak(state.resonance),
    )


def _loss_rows(report: LossReport) -> list[tuple[str, ...]]:
    rows = [loss_row(plain(state.state.title, 60), state) for state in report.states]
    return [*rows, loss_row(f"worst: {plain(report.worst.state.title, 80)}", report.worst)]


def _loss(data: ReportData) -> Section:
    report = data.losses
    low, high = (hertz(f) for f in report.basis.band)
    after = [
        "Level: the change at 100 Hz. 1 to 8 kHz: the loss there, how much weaker than the "
        f"reference; a minus means stronger. Treble: the mean loss from {low} to {high}. Corner: "
        "above it the sound stays 3 dB under its 100 Hz level. Resonance: the pickup's peak, and "
        "its height over the 100 Hz level.",
    ]
    if not report.proven:
        after.append("Too many passive switches to try them all: a worse state may exist.")
    made = Table("What each state loses", LOSS_COLUMNS, _LOSS_NUMBERS, _loss_rows(report))
    return Section("loss", "Loss, state by state", [loss_sentence(report.worst)], [made], (), after)


def _missing(name: str, title: str, command: str, data: ReportData) -> Section:
    why = "Nothing comes out of this board, so there is nothing to compare."
    if data.losses.worst.verdict != "silent":
        why = f"Left out: not possible on this board, or too large. See: {command}."
    return Section(name, title, [why])


def _buffer(data: ReportData) -> Section:
    report, title = data.buffer, "Would a buffer help?"
    if report is None:
        return _missing("buffer", title, "sigsim buffer BOARD", data)
    rows = [
        (places(p.gaps), decibel(p.loss), signed(p.loss - report.now))
        for p in report.placements[:MOST_ROWS]
    ]
    rows.append(("as it is", decibel(report.now), ""))
    losses = [p.loss for p in report.placements[:MOST_ROWS]] + [report.now]
    columns = ("Place", "Treble loss (dB)", "Change (dB)")
    tables = [Table("One buffer, the best place first", columns, (1, 2), rows, _bars(losses))]
    instead = [
        (instead_words(c), decibel(c.loss), signed(c.loss - report.now)) for c in data.instead[:6]
    ]
    if instead:
        columns = ("Instead of a new box", *columns[1:])
        tables.append(Table("What else would do", columns, (1, 2), instead))
    after = [
        f"No buffer {places([gap])}: '{plain(gap.forbidden_by or '', 30)}' wants to see the pickup."
        for gap in report.refused[:MOST_ROWS]
    ]
    after.append(f"The buffer tried is the part {report.part.part}, always on. The loss is the "
                 "worst of all states, against the ideal reference.")  # fmt: skip
    return Section("buffer", title, [buffer_sentence(report)], tables, (), after)


def _cables(data: ReportData) -> Section:
    report, title = data.cables, "Which cable?"
    if report is None:
        return _missing("cables", title, "sigsim cables BOARD", data)
    tables = [_role(role) for role in report.roles]
    after = [
        "Each cable takes the place of all pieces of one name; the loss is the worst of all "
        "states. Where the name is the instrument's own lead, the lead is counted as well."
    ]
    return Section("cables", title, [cables_sentence(report)], tables, (), after)


def _role(role: RoleReport) -> Table:
    rows = [
        (
            plain(c.candidate.name, 30) + (" (now)" if c.now else ""),
            f"{float(c.candidate.spec.capacitance) * 1e12:.3g}",
            decibel(c.counted),
            "" if c.now else signed(c.change),
            short_hertz(c.worst.corner),
        )
        for c in role.choices
    ]
    with_lead = any(c.counted != c.worst.treble_loss for c in role.choices)
    loss = "Treble loss with the lead (dB)" if with_lead else "Treble loss (dB)"
    columns = ("Cable", "pF/m", loss, "Change (dB)", "Corner (Hz)")
    bars = _bars([c.counted for c in role.choices])
    return Table(f"As '{plain(role.role.name, 30)}'", columns, (1, 2, 3, 4), rows, bars)


def _blame(data: ReportData) -> Section:
    report, title = data.blame, "What costs the most?"
    if report is None:
        return _missing("blame", title, "sigsim blame BOARD", data)
    shown = [b for b in report.items if not b.in_reference][:MOST_ROWS]
    rows = [
        (
            plain(b.name, 50),
            b.group,
            signed(b.saved),
            decibel(b.costs),
            "-" if b.share is None else f"{100 * b.share:.0f} %",
        )
        for b in shown
    ]
    columns = ("Thing", "Group", "Saved without it (dB)", "Costs alone (dB)", "Share")
    state = report.state
    text = [f"The worst state, {plain(state.state.title, 80)}, loses {decibel(state.treble_loss)} dB of "
            f"treble ({state.verdict})."]  # fmt: skip
    made = Table("What each thing costs there", columns, (2, 3, 4), rows,
                 _bars([b.saved for b in shown]))  # fmt: skip
    after = [
        "Saved: the thing made ideal, all else as it is. Alone: it left as it is, all else "
        "ideal. Things act on one another, so the shares need not add up to 100 %."
    ]
    return Section("blame", title, text, [made], (), after)


def _compared(data: ReportData) -> Section:
    tables = [
        Table(name, LOSS_COLUMNS, _LOSS_NUMBERS, _loss_rows(report))
        for name, report in zip(
            board_names(data, 80),
            (data.losses, *(o.report for o in data.overlays)),
            strict=True,
        )
    ]
    worst = [data.losses.worst, *(o.report.worst for o in data.overlays)]
    text = [
        f"{plain(table.caption, 60)}: {loss_sentence(state)}"
        for table, state in zip(tables, worst, strict=True)
    ]
    return Section("compare", "Compared with", text, tables)


def _hand_check(data: ReportData) -> Section:
    tables = []
    seen: set[tuple[str, ...]] = set()
    for state in (*data.losses.states, data.losses.worst):
        if state.state.on in seen:
            continue
        seen.add(state.state.on)
        rows = [
            (
                plain(c.segment, 80),
                render(c.source_resistance, "Ω"),
                render(c.capacitance, "F"),
                "-" if c.rc_corner is None else hertz(c.rc_corner),
                "-" if c.lc_resonance is None else hertz(c.lc_resonance),
            )
            for c in state.hand_check
        ]
        columns = ("From → to", "Rs", "ΣC", "1/(2π·Rs·ΣC)", "1/(2π·√(L·ΣC))")
        tables.append(Table(plain(state.state.title, 80), columns, (1, 2, 3, 4), rows))
    text = [
        "Two formulas to check with a pocket calculator; the exact figures are in the tables "
        "above. Rs: source resistance. ΣC: all capacitance across the line. L: the coil."
    ]
    return Section("hand-check", "Hand check", text, tables[:MOST_ROWS])


def _cautions(data: ReportData) -> Section:
    found = [caution_text(caution) for caution in data.cautions]
    text = [] if found else ["Nothing that an experienced player would ask about."]
    return Section("cautions", "Cautions", text, (), [
        *found,
        "Do not open an amplifier to measure it: even unplugged it can hold dangerous voltages. "
        "Leave mains and valve circuits to a licensed person; local rules come first.",
        "Turn down before you change a connection, and before comparing by ear.",
    ])  # fmt: skip


_REFERENCES: Final = {
    "ideal": "the same stages on, the instrument's own lead kept, every other cable of no length, "
    "everything that is off and every branch absent",
    "direct": "the instrument's own lead straight into the destination",
}


def _assumptions(data: ReportData) -> Section:
    board, losses = data.question.board, data.losses
    words = ", ".join(
        f"{word} under {limit:g} dB" if limit < 1000 else f"{word} above" for limit, word in WORDS
    )
    low, high = (hertz(f) for f in losses.basis.band)
    return Section("assumptions", "What is assumed", (), (), [
        "Everything is linear, with small signals and steady tones. A distorting stage counts by "
        "its input and output only; what it does to the waveform is its purpose.",
        f"The reference is {_REFERENCES[losses.basis.reference]}.",
        f"Treble loss: the plain mean of the loss at the third-octave centres from {low} to "
        f"{high} (IEC 61260-1). In words (common practice, no source): {words}.",
        "The corner is the lowest frequency above which the sound stays 3.01 dB under its level at "
        "100 Hz, up to 40 kHz. A resonance is at least 0.1 dB over the level at 100 Hz.",
        "A cable is a uniform line with a plug at each end. A stage with true bypass is, while "
        "off, a switch contact and a little wiring; with a buffered bypass it is a buffer.",
        "All pickups of an instrument carry the same signal in phase.",
        f"The board has {count(len(board.switches()), 'switch', 'switches')}; the worst state is "
        + ("the worst of all combinations." if losses.proven else "the worst that was found."),
        "Figures without a source in a measurement are typical ones; see below.",
    ])  # fmt: skip


def _bars(values: Sequence[float]) -> list[float]:
    """Return lengths of bars: the largest is 1, what is negative or not a number is 0."""
    most = max((v for v in values if v == v), default=0.0)
    return [max(v / most, 0.0) if most > 0 and v == v else 0.0 for v in values]
