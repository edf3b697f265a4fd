"""All states as words, tables, JSON and CSV."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, Final

from sigsim.metrics import verdict
from sigsim.show.loss import state_values
from sigsim.show.render.json import finite, json_document
from sigsim.show.render.terminal import row, show, table
from sigsim.show.render.text import count, decibel, hertz, peak, plain, short_hertz, signed

if TYPE_CHECKING:
    from rich.table import Table

    from sigsim.decide.loss.report import StateReport
    from sigsim.decide.states.report import StatesReport
    from sigsim.states.every import EveryState, StateBlock

CSV_COLUMNS: Final = (
    "on", "level_db", "loss_1000_db", "loss_2000_db", "loss_4000_db", "loss_8000_db",
    "treble_loss_db", "verdict", "corner_hz", "resonance_hz", "resonance_db",
)  # fmt: skip


def print_states(report: StatesReport) -> None:
    """Print the sentence, the summary, the ranked states and what each switch does."""
    question, summary = report.question, report.summary
    varying = len(question.varying())
    show(_sentence(report), "")
    held = [f"{name} {'on' if on else 'off'}" for name, on in (question.fixed or {}).items()]
    if held:
        show(f"Held: {', '.join(plain(h, 40) for h in held)}.")
    show(f"{count(varying, 'switch', 'switches')}, {count(report.total, 'different state')}.")
    if report.sampled is not None:
        drawn = f"{report.sampled:,} states drawn at random (seed {question.seed})"
        show(
            f"Best, worst and the ranked states are exact; the rest of this is from {drawn}."
            if report.proven
            else f"This summary is from {drawn}, but for best and worst."
        )
    show(
        f"Treble loss: best {decibel(summary.best)} dB, median {decibel(summary.median)} dB, "
        f"95 % within {decibel(summary.most)} dB, worst {decibel(summary.worst)} dB."
    )
    show(", ".join(f"{number:,} {word}" for word, number in _words(report).items()) + ".")
    if summary.below is not None and question.below is not None:
        show(f"Corner below {hertz(question.below)}: {count(summary.below, 'state')}.")
    if not report.proven:
        show("Not every state could be searched: a worse one may exist.")
    show("", f"Worst by {_by(report)}:", _ranked(report, report.top))
    show(f"Best by {_by(report)}:", _ranked(report, report.best))
    if report.effects:
        drawn = "" if report.sampled is None else ", in the drawn states"
        show(
            f"What matters most: the treble loss with each thing on instead of off{drawn}",
            _effects(report),
        )


def _sentence(report: StatesReport) -> str:
    summary = report.summary
    if not math.isfinite(summary.median):
        return "Nothing comes out in any state: is a volume knob at 0?"
    heavy = summary.words["heavy"] + summary.words["clear"]
    counted = report.sampled or report.total
    share = 100 * heavy / max(counted, 1)
    few = "none" if not heavy else f"{share:.0f} % of all" if share >= 1 else "under 1 % of all"
    return (
        f"Half of all states lose {decibel(summary.median)} dB of treble at most "
        f"({verdict(summary.median)}), {few} more than 3 dB, the worst "
        f"{decibel(summary.worst)} dB ({verdict(summary.worst)})."
    )


def _words(report: StatesReport) -> dict[str, int]:
    words = dict(report.summary.words)
    return words | ({"silent": report.summary.silent} if report.summary.silent else {})


def _by(report: StatesReport) -> str:
    by = report.question.by
    names = {"treble": "treble loss", "corner": "corner", "level": "level"}
    return names[by] if isinstance(by, str) else f"loss at {hertz(by)}"


def _ranked(report: StatesReport, states: tuple[StateReport, ...]) -> Table:
    made = table(
        ["", "On", "Level", "4k", "Treble", " ", "Corner", "Resonance"], names=("On",), words=(" ",)
    )
    for rank, state in enumerate(states, 1):
        row(
            made,
            f"{rank}",
            _on_or_off(report, state),
            signed(state.level),
            decibel(state.losses[4000.0]),
            decibel(state.treble_loss),
            state.verdict,
            short_hertz(state.corner),
            peak(state.resonance),
        )
    return made


def _on_or_off(report: StatesReport, state: StateReport) -> str:
    """Name what is on or, where that is shorter, what is off."""
    off = off_names(report, state)
    if not state.state.on:
        return "nothing"
    if not off:
        return "everything"
    names, lead = (off, "all but ") if len(off) < len(state.state.on) else (state.state.on, "")
    shown = [plain(name, 30) for name in names[:8]]
    return lead + ", ".join(shown) + (f" and {len(names) - 8} more" if len(names) > 8 else "")


def off_names(report: StatesReport, state: StateReport) -> tuple[str, ...]:
    """Return the names of what is off in a state."""
    return tuple(n for n in report.question.board.switches() if n not in state.state.on)


def _effects(report: StatesReport) -> Table:
    made = table(["Switch", "Median off", "on", "change", "Worst off", "on ", "change "],
                 names=("Switch",))  # fmt: skip
    for effect in report.effects:
        row(
            made,
            plain(effect.name, 30),
            decibel(effect.median_off),
            decibel(effect.median_on),
            signed(effect.median_change),
            decibel(effect.worst_off),
            decibel(effect.worst_on),
            signed(effect.worst_change),
        )
    return made


def as_json(report: StatesReport) -> str:
    """Return the report as one JSON document; plain numbers in SI units, null for none."""
    question, summary = report.question, report.summary
    values = {
        "board": question.board.name,
        "reference": question.basis.reference,
        "band_hz": list(question.basis.band),
        "by": question.by,
        "states_total": report.total,
        "switchable": list(question.board.switches()),
        "held": dict(question.fixed or {}),
        "sampled": report.sampled,
        "seed": question.seed if report.sampled is not None else None,
        "proven": report.proven,
        "summary": {
            "best_db": finite(summary.best),
            "median_db": finite(summary.median),
            "p95_db": finite(summary.most),
            "worst_db": finite(summary.worst),
            **summary.words,
            "silent": summary.silent,
            "below_hz": question.below,
            "below": summary.below,
        },
        "top": [_ranked_document(report, n, state) for n, state in enumerate(report.top, 1)],
        "best": [_ranked_document(report, n, state) for n, state in enumerate(report.best, 1)],
        "switches": [
            {
                "name": e.name,
                "median_off_db": finite(e.median_off),
                "median_on_db": finite(e.median_on),
                "median_change_db": finite(e.median_change),
                "worst_off_db": finite(e.worst_off),
                "worst_on_db": finite(e.worst_on),
                "worst_change_db": finite(e.worst_change),
            }
            for e in report.effects
        ],
    }
    return json_document(values)


def _ranked_document(report: StatesReport, rank: int, state: StateReport) -> dict[str, Any]:
    off = list(off_names(report, state))
    return {"rank": rank, "on": list(state.state.on), "off": off} | state_values(state)


def csv_lines(every: EveryState, blocks: Iterator[StateBlock]) -> Iterator[tuple[int, str]]:
    """Yield the CSV in pieces, each with how many states it holds; empty cells for none."""
    yield 0, ",".join(CSV_COLUMNS) + "\n"
    names = _StateNames(every)
    for block in blocks:
        columns = zip(
            block.on.tolist(), *block.measures.tolist(), block.corner.tolist(),
            block.resonance.tolist(), block.resonance_height.tolist(), strict=True,
        )  # fmt: skip
        yield block.on.size, "".join(_line(names, *values) for values in columns)


def _line(names: _StateNames, on: int, *values: float) -> str:
    *measures, corner, resonance, height = values
    numbers = [*measures, corner, resonance, height]
    cells = [f"{v:.6g}" if math.isfinite(v) else "" for v in numbers]
    cells.insert(len(measures), verdict(measures[-1]) if cells[len(measures) - 1] else "silent")
    return f"{names.of(on)},{','.join(cells)}\n"


class _StateNames:
    """The names of what is on as one CSV cell, put together from two halves kept ready."""

    _HALF = 12

    def __init__(self, every: EveryState) -> None:
        self._names = list(every.bit)
        self._kept: dict[tuple[int, int], str] = {}

    def of(self, on: int) -> str:
        """Return the names joined by ` + `, quoted as CSV wants them."""
        low, high = on & ((1 << self._HALF) - 1), on >> self._HALF
        parts = [part for part in (self._half(0, low), self._half(self._HALF, high)) if part]
        text = " + ".join(parts)
        return f'"{text}"' if any(c in text for c in ',"\n\r') else text

    def _half(self, first: int, bits: int) -> str:
        key = first, bits
        if key not in self._kept:
            names = [n for i, n in enumerate(self._names[first:]) if bits >> i & 1]
            self._kept[key] = " + ".join(name.replace('"', '""') for name in names)
        return self._kept[key]
