"""What was heard, as words, JSON and a plot."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

from sigsim.show.render.json import finite, json_document
from sigsim.show.render.terminal import row, show, table
from sigsim.show.render.text import decibel, hertz, plain, signed

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sigsim.audio.report import Listening

# A change of level that is worth a word [dB].
_LEVEL_DB: Final = 1.0
# Where the plot begins [Hz]: a low B string has 31 Hz.
_LOWEST_HZ: Final = 25.0
_MEANING = {
    "processed": "through the chain",
    "reference": "the reference",
    "lost": "what was lost: the reference less the other",
}


def as_json(heard: Listening) -> str:
    """Return what was heard as one JSON document; plain numbers in SI units, null for none."""
    recording, report, levels = heard.recording, heard.report, heard.levels
    values: dict[str, Any] = {
        "board": heard.board,
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


def print_listening(heard: Listening) -> None:
    """Print the sentence, the table, what was done to the level, and the files."""
    show(sentence(heard), _table(heard))
    for line in _levels(heard):
        show(line)
    for role, path in heard.files.items():
        show(f"{_MEANING[role]}: {plain(str(path), 70)}")
    show("Start quietly: what is compared may be louder than you expect.")


def sentence(heard: Listening) -> str:
    """Return the first sentence: what this take loses, and how the chain is called."""
    take, state = plain(heard.recording.path.name, 30), plain(heard.state.title, 40)
    report, loss = heard.report, heard.loss_in_take
    if report.verdict == "silent":
        return f"'{take}' through '{state}': nothing comes out. Is a volume knob at 0?"
    if loss is None:
        in_take = "this take has next to nothing above 2 kHz"
    else:
        done = "lost" if loss >= 0 else "gained"
        in_take = f"in this take {decibel(abs(loss))} dB {done} above 2 kHz"
    treble = report.treble_loss
    whole = f"treble {'loss' if treble >= 0 else 'gain'} {decibel(abs(treble))} dB"
    word = f" ({report.verdict})" if treble >= 0 else ""
    change = f"{decibel(abs(report.level))} dB {'quieter' if report.level < 0 else 'louder'}"
    level = f", everything being {change}" if abs(report.level) >= _LEVEL_DB else ""
    return f"'{take}' through '{state}': {in_take}; {whole}{word}{level}."


def _table(heard: Listening) -> Any:
    report = heard.report
    made = table(["Against", "Level", "1k", "2k", "4k", "8k", "Treble", "", "In this take"],
                 names=("Against",), words=("",))  # fmt: skip
    half = heard.recording.rate / 2
    loss = heard.loss_in_take
    row(
        made,
        plain(heard.reference, 32),
        signed(report.level),
        *(decibel(loss) if f < half else "-" for f, loss in report.losses.items()),
        decibel(report.treble_loss),
        "" if report.treble_loss < 0 else report.verdict,
        "-" if loss is None else decibel(loss),
    )
    return made


def _levels(heard: Listening) -> list[str]:
    levels, lines = heard.levels, []
    if levels.matched != 1.0:
        line = f"Through the chain {signed(levels.matched_db)} dB, so that both are equally loud"
        loss = heard.loss_in_take
        if loss is not None:
            differ = loss - levels.matched_db
            line += f": the files then differ by {decibel(abs(differ))} dB above 2 kHz"
        lines.append(f"{line}.")
    if levels.scale != 1.0:
        what = "Everything" if len(heard.files) > 1 else "The result"
        lines.append(f"{what} {signed(levels.scale_db, 2)} dB, so that nothing clips.")
    return lines


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


def draw_listening(figure: Figure, heard: Listening) -> Sequence[Axes]:
    """Draw the spectrum of a recording before and after, and the loss.

    Parameters
    ----------
    figure : an empty figure
    heard : what was heard

    Returns
    -------
    the two axes
    """
    from sigsim.show.plots.style import (
        REFERENCE_COLOUR,
        TEXT_SIZE,
        frequency_axis,
        legend_below,
        limit_gain,
        literal,
        seen,
        styles,
    )

    upper, lower = figure.subplots(2, 1, sharex=True, height_ratios=(3, 2))
    frequency, level, loss = heard.bands()
    matched = heard.levels.matched != 1.0
    loss = loss - heard.levels.matched_db
    style = next(styles())
    name = literal(heard.state.title, 44) + (" (equally loud)" if matched else "")
    upper.plot(frequency, level, color=REFERENCE_COLOUR, lw=1.4,
               label=f"reference: {literal(heard.reference)}")  # fmt: skip
    upper.plot(frequency, seen(level - loss), label=name, **style)
    lower.plot(frequency, seen(loss), **style)
    lower.axhline(0, color=REFERENCE_COLOUR, linewidth=0.8, zorder=1)
    highest = min(max(heard.edge, 1000.0), 20_000.0)
    for axes in (upper, lower):
        frequency_axis(axes, _LOWEST_HZ, highest)
    limit_gain(upper, [level, level - loss])
    upper.set_xlabel("")
    upper.set_ylabel("level (dB)", fontsize=TEXT_SIZE)
    lower.set_ylabel("difference (dB)" if matched else "loss (dB)", fontsize=TEXT_SIZE)
    title = literal(heard.recording.path.name, 40)
    figure.suptitle(title, fontsize=TEXT_SIZE + 2, x=0.02, ha="left")
    legend_below(figure)
    return upper, lower
