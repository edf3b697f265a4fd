"""The loss report as words, tables and JSON."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from sigsim.metrics import WORDS
from sigsim.show.render.text import (
    decibel,
    finite,
    hertz,
    peak,
    plain,
    row,
    short_hertz,
    show,
    signed,
    table,
)
from sigsim.units import render

if TYPE_CHECKING:
    from rich.table import Table

    from sigsim.decide.loss.report import LossReport, Region, StateReport
    from sigsim.states.hand_check import HandCheck

_EXPLANATION = """\
1k to 8k: the loss there, how much weaker than the reference in dB; a minus means \
stronger. The reference {reference}.
Level: the change at 100 Hz.
Treble: the mean loss at the third-octave centres from {low} to {high}: {words}.
Corner: above it the sound stays 3 dB under its 100 Hz level.
Resonance: the pickup's peak, and its height over the 100 Hz level."""

_HAND_TITLE = "Hand check, by pocket calculator (the exact figures are in the table above)"

_REFERENCES = {
    "ideal": "is the same stages on, with the instrument's lead but no other wiring",
    "direct": "is the instrument's lead straight into the destination",
}


def as_json(report: LossReport) -> str:
    """Return the report as one JSON document; plain numbers in SI units, null for none."""
    document = {
        "board": report.board.name,
        "reference": report.basis.reference,
        "band_hz": list(report.basis.band),
        "states": [state_document(state) for state in report.states],
        "worst": state_document(report.worst),
        "worst_proven": report.proven,
    }
    return json.dumps(document, ensure_ascii=False, indent=2, allow_nan=False)


def state_document(state: StateReport) -> dict[str, Any]:
    """Return one state as plain JSON values."""
    resonance = state.resonance
    return {
        "name": state.state.name,
        "on": list(state.state.on),
        "level_db": finite(state.level),
        "level_change_db": finite(state.level_change),
        "treble_loss_db": finite(state.treble_loss),
        "loss_db": {f"{f:.0f}": finite(loss) for f, loss in state.losses.items()},
        "corner_hz": state.corner,
        "resonance_hz": resonance.frequency if resonance else None,
        "resonance_db": resonance.height if resonance else None,
        "verdict": state.verdict,
        "hand_check": [
            {
                "segment": check.segment,
                "source_resistance_ohm": check.source_resistance,
                "capacitance_f": check.capacitance,
                "rc_corner_hz": check.rc_corner,
                "lc_resonance_hz": check.lc_resonance,
            }
            for check in state.hand_check
        ],
    }


def print_report(report: LossReport, *, with_worst: bool, explain: bool) -> None:
    """Print the sentence, the table and, if asked for, the hand check."""
    shown = list(report.states)
    if with_worst:
        shown.append(report.worst)
    show(sentence(report.worst if with_worst else _loudest(report.states)))
    for state in _different(report.states):
        if state.gain_region and state.loss_region:
            show(_both_ways(state.state.title, state.gain_region, state.loss_region))
    for state in report.states:
        if state.hidden:
            names = ", ".join(f"'{plain(name, 24)}'" for name in state.hidden[:4])
            show(
                f"In '{plain(state.state.title, 30)}' {names} does nothing: the loop around it is out."
            )
    if not report.proven and with_worst:
        show("Too many passive switches in one run to try them all: a worse state may exist.")
    show(_table(shown, with_worst))
    if explain:
        show(_explanation(report), "", _HAND_TITLE, _hand_checks(shown))
    else:
        show("--explain shows the hand check and what the columns mean.")


def sentence(state: StateReport) -> str:
    """Return the first sentence: how much treble a state loses and where its resonance goes."""
    on = _with(state)
    if not math.isfinite(state.treble_loss):
        return f"Nothing comes out with {on}: is a volume knob at 0?"
    if state.treble_loss >= 0:
        change = f"{decibel(state.treble_loss)} dB of treble lost ({state.verdict})"
    else:
        change = f"{decibel(-state.treble_loss)} dB of treble gained"
    return f"Worst with {on}: {change}{_movement(state)}."


def _with(state: StateReport) -> str:
    if not state.state.on:
        return "everything off"
    names = [f"'{plain(name, 24)}'" for name in state.state.on[:4]]
    if len(state.state.on) > len(names):
        names.append(f"{len(state.state.on) - len(names)} more")
    listed = " and ".join(filter(None, [", ".join(names[:-1]), names[-1]]))
    return f"{listed} on"


def _movement(state: StateReport) -> str:
    before, after = state.reference_resonance, state.resonance
    if before and after:
        if hertz(before.frequency) == hertz(after.frequency):
            return f"; the resonance stays at {hertz(after.frequency)}"
        return f"; the resonance moves from {hertz(before.frequency)} to {hertz(after.frequency)}"
    if before:
        return f"; the resonance at {hertz(before.frequency)} is gone"
    if state.corner is not None and state.reference_corner is not None:
        was, now = hertz(state.reference_corner), hertz(state.corner)
        return f"; the corner {'stays at' if was == now else f'moves from {was} to'} {now}"
    if state.corner is not None:
        return f"; the corner comes down to {hertz(state.corner)}"
    return ""


def _loudest(states: tuple[StateReport, ...]) -> StateReport:
    finite_states = [s for s in states if math.isfinite(s.treble_loss)]
    return max(finite_states, key=lambda s: s.treble_loss, default=states[0])


def _both_ways(name: str, adds: Region, takes: Region) -> str:
    return (
        f"'{plain(name, 30)}' adds {decibel(-adds.loss)} dB near {hertz(adds.frequency)} "
        f"and takes {decibel(takes.loss)} dB near {hertz(takes.frequency)}."
    )


def _table(states: list[StateReport], with_worst: bool) -> Table:
    columns = ["State", "Level", "1k", "2k", "4k", "8k", "Treble", "", "Corner", "Resonance"]
    made = table(columns, names=("State",), words=("",))
    for index, state in enumerate(states):
        is_worst = with_worst and index == len(states) - 1
        name = (
            f"worst: {plain(state.state.title, 40)}" if is_worst else plain(state.state.title, 40)
        )
        row(
            made,
            name,
            signed(state.level_change),
            *(decibel(loss) for loss in state.losses.values()),
            decibel(state.treble_loss),
            state.verdict,
            short_hertz(state.corner),
            peak(state.resonance),
        )
    return made


def _explanation(report: LossReport) -> str:
    words = []
    for (limit, word), below in zip(WORDS, (0.0, *(w[0] for w in WORDS)), strict=False):
        words.append(f"{word} under {limit:g} dB" if limit < math.inf else f"{word} over {below:g}")
    low, high = (hertz(f) for f in report.basis.band)
    return _EXPLANATION.format(
        reference=_REFERENCES[report.basis.reference], low=low, high=high, words=", ".join(words)
    )


def _hand_checks(states: list[StateReport]) -> Table:
    made = table(
        ["State and segment", "Rs", "ΣC", "1/(2πRC)", "1/(2π√LC)"],
        names=("State and segment",),
    )
    for state in _different(states):
        row(made, plain(state.state.title, 40), "", "", "", "")
        for check in state.hand_check:
            row(made, *_hand_row(check))
    return made


def _different(states: Sequence[StateReport]) -> list[StateReport]:
    """Return the states without those that repeat an earlier one under another name."""
    by_state: dict[tuple[str, ...], StateReport] = {}
    for state in states:
        by_state.setdefault(state.state.on, state)
    return list(by_state.values())


def _hand_row(check: HandCheck) -> tuple[str, ...]:
    return (
        "  " + plain(check.segment, 40),
        render(check.source_resistance, "Ω"),
        render(check.capacitance, "F"),
        "-" if check.rc_corner is None else hertz(check.rc_corner),
        "-" if check.lc_resonance is None else hertz(check.lc_resonance),
    )
