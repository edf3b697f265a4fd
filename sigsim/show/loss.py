"""The loss report as a document and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

from sigsim.board.state import ALL_OFF_TITLE
from sigsim.decide.folding import unfolded
from sigsim.show import folds, kinds
from sigsim.show.document import Column, Document, Paragraph, Table
from sigsim.show.ends import KNOB, at_end, at_value, ended, why_silent
from sigsim.show.folds import HINT, joined
from sigsim.show.hand_check import hand_check, hand_meaning
from sigsim.show.kinds import Named
from sigsim.show.render.json import finite, json_document
from sigsim.show.render.text import decibel, hertz, in_words, level_said, plain

if TYPE_CHECKING:
    from sigsim.board.model import Board
    from sigsim.decide.loss.report import LossReport, Region, StateReport
    from sigsim.metrics import Basis
    from sigsim.show.document import Block, Cell

TITLE: Final = "Loss, combination by combination"

_EXPLANATION: Final = """\
1k to 8k: the loss there, how much weaker than the reference in dB; a minus means \
stronger. The reference is {reference}.
Louder: the change of level at 100 Hz; a minus means softer.
Treble: the mean loss at the third-octave centres from {low} to {high} less that at \
100 Hz: {words}.
Corner: above it the sound stays 3 dB under its 100 Hz level.
Resonance: the pickup's peak, and its height over the 100 Hz level."""

_WORST: Final = "worst: "

REFERENCES: Final = {
    "ideal": "the same pedals on, with the instrument's lead but no other wiring",
    "direct": "the instrument's lead straight into the amp",
    "bare": "the same pedals on, with no wiring at all, not even the instrument's lead",
}

LOSSES: Final = (
    Column("1k", kinds.LOSS, "1 kHz", rank=9),
    Column("2k", kinds.LOSS, "2 kHz", rank=8),
    Column("4k", kinds.LOSS, "4 kHz", rank=4),
    Column("8k", kinds.LOSS, "8 kHz", rank=7),
)
NUMBERS: Final = (
    Column("Treble", kinds.LOSS, rank=0),
    Column("", kinds.WORD, "In a word", rank=1),
    Column("Corner", kinds.SHORT_HERTZ, rank=5),
    Column("Resonance", kinds.PEAK, rank=6),
)
_COLUMNS: Final = (
    Column("Combination", kinds.NAME),
    Column("Louder", kinds.CHANGE, rank=3),
    *LOSSES,
    *NUMBERS,
)


def as_json(report: LossReport) -> str:
    """Return the report as one JSON document; plain numbers in SI units, null for none."""
    values = {
        **asked(report.board, report.basis),
        "states": [state_values(state) for state in report.states],
        "worst": state_values(report.worst),
        "worst_proven": report.proven,
        "worst_bound_db": finite(report.bound),
    }
    return json_document(values)


def asked(board: Board, basis: Basis) -> dict[str, Any]:
    """Return what was measured, and against what, as plain JSON values."""
    measured = {"reference": basis.reference, "band_hz": list(basis.band)}
    return {"board": board.name, **at_value(board), **measured}


def state_values(state: StateReport) -> dict[str, Any]:
    """Return one state as plain JSON values."""
    resonance = state.resonance
    return {
        "name": state.state.name,
        "on": list(state.state.on),
        "level_db": finite(state.level),
        "level_change_db": finite(state.level_change),
        "treble_loss_db": finite(state.treble_loss),
        "treble_loss_with_lead_db": finite(state.treble_loss_with_lead),
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
                "counts": check.counts,
            }
            for check in state.hand_check
        ],
    }


def document(
    report: LossReport, *, with_worst: bool, explain: bool, every: bool = False
) -> Document:
    """Return all that `sigsim loss` says.

    Parameters
    ----------
    report : from `loss_report`
    with_worst : whether the worst of all states was asked for as well
    explain : whether the hand check and the meaning of the columns are
    every : whether states that are the same have a row each
    """
    table = states_table(report, with_worst=with_worst, every=every)
    note = () if every else merged_note(report)
    first: tuple[Block, ...] = (answer(report, with_worst=with_worst), table, *note)
    if not explain:
        more = Paragraph(("--explain shows the hand check and what the columns mean.",))
        return Document(TITLE, (*first, more))
    hand = hand_meaning(), hand_check(report, with_worst=with_worst)
    return Document(TITLE, (*first, explanation(report), *hand))


UNPROVEN: Final = (
    "The time was up before all combinations were ruled out: a worse one may exist, "
    "and `sigsim loss --seconds` says how much worse."
)


def unproven(found: float, bound: float, at: str = "") -> str:
    """Say what is left open where the time was up before the worst was proven.

    Parameters
    ----------
    found, bound : the loss of the worst found, and what none exceeds [dB]
    at : at which frequency, empty for the treble loss
    """
    what = f"dB{at}" if at else "dB of treble"
    return (
        f"The time was up before all combinations were ruled out: the worst found loses "
        f"{decibel(found)} {what}, and none loses more than {decibel(bound)} dB."
    )


def answer(report: LossReport, *, with_worst: bool) -> Paragraph:
    """Return what is lost, and what is to be known about some states."""
    lines = [headline(report, with_worst=with_worst)]
    lines += [
        _both_ways(state.state.title, state.gain_region, state.loss_region)
        for state in (fold.first for fold in report.merged)
        if state.gain_region and state.loss_region
    ]
    lines += [_hidden(state) for state in report.states if state.hidden]
    if not report.proven and with_worst:
        lines.append(unproven(report.worst.treble_loss, report.bound))
    return Paragraph(tuple(lines))


def headline(report: LossReport, *, with_worst: bool) -> str:
    """Return the first sentence, of the worst of all states or of those asked for."""
    state = report.worst if with_worst else report.heaviest
    silent = why_silent(report.board, state.state.on)
    return at_end(report.board, sentence(state, report.basis, silent))


def _hidden(state: StateReport) -> str:
    names = ", ".join(f"'{plain(name, 24)}'" for name in state.hidden[:4])
    return f"In '{plain(state.state.title, 30)}' {names} does nothing: the loop around it is out."


def sentence(state: StateReport, basis: Basis, why_silent: str = KNOB) -> str:
    """Return the first sentence: how much treble a state loses and where its resonance goes."""
    return told(state, basis, "Worst with", why_silent)


def told(state: StateReport, basis: Basis, begin: str = "With", why_silent: str = KNOB) -> str:
    """Return what a state loses in one sentence, with words to begin it and for its silence."""
    on = what_is_on(state.state.on)
    if state.silent:
        return ended(f"Nothing comes out with {on}: {why_silent}")
    return f"{begin} {on}: {treble(state, basis)}{louder(state.level_change)}{_movement(state)}."


def treble(state: StateReport, basis: Basis) -> str:
    """Say how much treble a state loses or gains, and how much with its lead where that differs."""
    text = f"{lost_or_gained(state.treble_loss)} ({state.verdict})"
    lost, all_lost = decibel(state.treble_loss), decibel(state.treble_loss_with_lead)
    if basis.reference == "ideal" and lost != all_lost:
        text += f", {all_lost} with its lead"
    return text


def lost_or_gained(treble_loss: float) -> str:
    """Say a treble loss [dB] of either sign."""
    lost = decibel(treble_loss)
    if lost.startswith("-"):
        return f"{lost[1:]} dB of treble gained"
    return f"{lost} dB of treble lost"


def louder(level_change: float) -> str:
    """Say a change of level [dB] where it is one that must be known beside a treble loss."""
    said = level_said(level_change)
    return f"; all of it is {said}" if said else ""


def what_is_on(on: Sequence[str]) -> str:
    """Say in a sentence which things are on, or that all are off."""
    if not on:
        return ALL_OFF_TITLE
    names = [f"'{plain(name, 24)}'" for name in on[:4]]
    if len(on) > len(names):
        names.append(f"{len(on) - len(names)} more")
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
        if (state.corner - state.reference_corner) * state.treble_loss > 0:
            return ""  # it moves the other way, which would say the opposite of the treble
        was, now = hertz(state.reference_corner), hertz(state.corner)
        return f"; the corner {'stays at' if was == now else f'moves from {was} to'} {now}"
    if state.corner is not None:
        return f"; the corner comes down to {hertz(state.corner)}"
    return ""


def _both_ways(name: str, adds: Region, takes: Region) -> str:
    return (
        f"'{plain(name, 30)}' adds {decibel(-adds.loss)} dB near {hertz(adds.frequency)} "
        f"and takes {decibel(takes.loss)} dB near {hertz(takes.frequency)}."
    )


def states_table(
    report: LossReport, *, with_worst: bool, caption: str = "", every: bool = False
) -> Table:
    """Return the numbers of each state; those that are the same are one row.

    Parameters
    ----------
    report : from `loss_report`
    with_worst : whether the worst of all states is marked or, if it is none of them, comes last
    caption : of the table, where it needs one of its own
    every : whether each state has a row, and the worst one of its own
    """
    shown = unfolded(report.states) if every else report.merged
    at_worst = report.worst_among if with_worst and not every else None
    named = [
        (joined(fold, _WORST if i == at_worst else ""), fold.first) for i, fold in enumerate(shown)
    ]
    if with_worst and at_worst is None:
        named.append((Named(report.worst.state.title, before=_WORST), report.worst))
    rows = [
        (name, state.level_change, *state.losses.values(), *numbers(state)) for name, state in named
    ]
    return Table(caption or "What each combination loses", _COLUMNS, rows, captioned=False)


def merged_note(report: LossReport, hint: str = HINT) -> tuple[Paragraph, ...]:
    """Return what joined names mean, where there are any; `hint` says how to see each."""
    return tuple(folds.merged_note(report.merged, hint))


def numbers(state: StateReport) -> tuple[Cell, ...]:
    """Return the cells of a state under `NUMBERS`."""
    return state.treble_loss, state.verdict, state.corner, state.resonance


def explanation(report: LossReport) -> Paragraph:
    """Return what the columns mean."""
    low, high = (hertz(f) for f in report.basis.band)
    text = _EXPLANATION.format(
        reference=REFERENCES[report.basis.reference], low=low, high=high, words=in_words()
    )
    return Paragraph(tuple(text.splitlines()), quiet=True, apart=True)
