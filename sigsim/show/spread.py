"""The spread of the losses as words, tables and JSON."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, Final

from sigsim.decide.spread.influence import LEAST_ROWS
from sigsim.metrics import verdict
from sigsim.show.render.json import finite, json_document
from sigsim.show.render.terminal import row, show, table
from sigsim.show.render.text import count, decibel, plain, short_hertz, signed

if TYPE_CHECKING:
    from rich.table import Table

    from sigsim.decide.spread.influence import Influence
    from sigsim.decide.spread.report import Quantiles, SpreadReport, StateSpread

_SHOWN: Final = 5
# Weaker correlations than this are chance.
_LEAST_SHOWN: Final = 0.05

# How each metric is called in a table and in JSON, and how its numbers are written.
_METRICS: Final[dict[str, tuple[str, str, Callable[[float], str]]]] = {
    "treble_loss": ("treble loss, dB", "treble_loss_db", decibel),
    "level": ("level at 100 Hz, dB", "level_db", lambda value: signed(value, 2)),
    "corner": ("corner, Hz", "corner_hz", short_hertz),
    "resonance": ("resonance, Hz", "resonance_hz", short_hertz),
    "resonance_height": ("its height, dB", "resonance_db", signed),
}

_EXPLANATION: Final = """\
Written: with every figure as the file has it. 5, 50, 95 %: so many of {draws} boards, drawn at \
random with every figure somewhere within its tolerance ({how}), stay under this. A kind of cable \
is drawn once for all its lengths, because it comes off one reel.
Correlation: from -1 to +1, how closely the treble loss follows this figure from board to board \
(Spearman's rank correlation). Alone: the loss if only this figure goes from the low to the high \
end of its tolerance.{corners}"""

_CORNERS: Final = """
Least and most: the {number} figures that matter most for each number tried at their ends in every \
combination, all others at the ends that push the same way; no draw lies outside."""


def as_json(report: SpreadReport) -> str:
    """Return the report as one JSON document; plain numbers in SI units, null for none."""
    question = report.question
    values = {
        "board": question.board.name,
        "reference": question.basis.reference,
        "band_hz": list(question.basis.band),
        "draws": question.draws,
        "seed": question.seed,
        "distribution": "normal" if question.normal else "uniform",
        "limit_db": question.limit,
        "corner_quantities": question.corners,
        "quantities": [
            {
                "place": quantity.place,
                "key": quantity.key,
                "value": quantity.value,
                "tolerance_percent": 100 * quantity.tolerance,
            }
            for quantity in report.quantities
        ],
        "states": [_state_values(state) for state in report.states],
        "worst": None if report.worst is None else _state_values(report.worst),
    }
    return json_document(values)


def _state_values(state: StateSpread) -> dict[str, Any]:
    keys = {name: key for name, (_, key, _) in _METRICS.items()}
    bounds = state.bounds
    return {
        "name": state.state.name,
        "on": list(state.state.on),
        **{keys[name]: _quantiles_document(found) for name, found in state.metrics.items()},
        "verdict": verdict(state.metrics["treble_loss"].middle),
        "over_limit_probability": state.over_limit,
        "influences": [
            {
                "place": influence.quantity.place,
                "key": influence.quantity.key,
                "tolerance_percent": 100 * influence.quantity.tolerance,
                "rank_correlation": {keys[n]: rho for n, rho in influence.correlations.items()},
                "treble_loss_at_low_end_db": finite(influence.low),
                "treble_loss_at_high_end_db": finite(influence.high),
            }
            for influence in state.influences
        ],
        "worst_case": None
        if bounds is None
        else {
            keys[name]: {"lowest": finite(bound.lowest), "highest": finite(bound.highest)}
            for name, bound in bounds.items()
        },
    }


def _quantiles_document(found: Quantiles) -> dict[str, float | None]:
    return {
        "written": finite(found.written),
        "p5": finite(found.low),
        "p50": finite(found.middle),
        "p95": finite(found.high),
        "none_probability": found.none,
    }


def print_spread(report: SpreadReport, *, explain: bool) -> None:
    """Print the sentence, how the metrics spread, and which quantities matter."""
    question = report.question
    shown = _different(report)
    show(_sentence(report, report.worst or _loudest(report.states)))
    show(
        f"{count(question.draws, 'board')} drawn, {count(len(report.quantities), 'figure')} within "
        f"{'its tolerance' if len(report.quantities) == 1 else 'their tolerances'} "
        f"(seed {question.seed}).",
        _numbers(report, shown),
        "What matters for the treble loss, the most important first",
        _influences(shown, question.draws),
    )
    show(_explanation(report) if explain else "--explain says what the columns mean.")


def _different(report: SpreadReport) -> list[tuple[str, StateSpread]]:
    """Return each different state once, under all its names, the worst marked as such."""
    by_state: dict[tuple[str, ...], tuple[list[str], StateSpread]] = {}
    for state in report.states:
        by_state.setdefault(state.state.on, ([], state))[0].append(plain(state.state.title, 40))
    if report.worst is not None:
        worst = report.worst
        names, _ = by_state.setdefault(worst.state.on, ([plain(worst.state.title, 40)], worst))
        names.append("(worst)")
    return [
        (", ".join(names).replace(", (worst)", " (worst)"), state)
        for names, state in by_state.values()
    ]


def _loudest(states: Sequence[StateSpread]) -> StateSpread:
    sounding = [s for s in states if math.isfinite(s.metrics["treble_loss"].middle)]
    return max(sounding, key=lambda s: s.metrics["treble_loss"].middle, default=states[0])


def _sentence(report: SpreadReport, state: StateSpread) -> str:
    loss = state.metrics["treble_loss"]
    where = f"'{plain(state.state.title, 50)}'" if state.state.on else "everything off"
    worst = "Worst with" if report.worst is state else "With"
    if not math.isfinite(loss.middle):
        return f"{worst} {where}: nothing comes out, is a volume knob at 0?"
    words = list(dict.fromkeys((verdict(loss.low), verdict(loss.high))))
    text = (
        f"{worst} {where}: 9 of 10 such boards lose {decibel(loss.low)} to {decibel(loss.high)} "
        f"dB of treble ({' to '.join(words)}), half of them more than {decibel(loss.middle)} dB; "
        f"{_part(state.over_limit)} lose more than {report.question.limit:g} dB"
    )
    if state.influences and abs(state.influences[0].correlations["treble_loss"]) >= _LEAST_SHOWN:
        text += f"; what matters most is {_spoken(state.influences[0])}"
    return text + "."


def _named(influence: Influence) -> str:
    quantity = influence.quantity
    return f"{plain(quantity.place, 30)}, {quantity.key.replace('_', ' ')}"


def _spoken(influence: Influence) -> str:
    quantity = influence.quantity
    place = plain(quantity.place, 30)
    owner = f"the {place}" if place in ("instrument", "destination") else place
    return f"the {quantity.key.replace('_', ' ')} of {owner}"


def _part(part: float) -> str:
    return {0.0: "none", 1.0: "all"}.get(part, _percent(part))


def _percent(part: float) -> str:
    """Return a part in %, so that none and all are only said of none and all."""
    if part in (0.0, 1.0):
        return f"{100 * part:.0f} %"
    return f"{min(max(100 * part, 0.1), 99.9):.1f} %"


def _numbers(report: SpreadReport, shown: Sequence[tuple[str, StateSpread]]) -> Table:
    bounded = report.question.corners is not None
    ends = ["least", "most"] if bounded else []
    made = table(
        ["State and number", "written", "5 %", "50 %", "95 %", *ends, ""],
        names=("State and number",),
        words=("",),
    )
    for names, state in shown:
        row(made, names, *[""] * (5 + len(ends)))
        for name, found in state.metrics.items():
            label, _, written = _METRICS[name]
            values = [found.written, found.low, found.middle, found.high]
            if state.bounds is not None:
                values += [state.bounds[name].lowest, state.bounds[name].highest]
            note = _note(report, state, name)
            row(made, f"  {label}", *(_cell(value, written) for value in values), note)
    return made


def _cell(value: float, written: Callable[[float], str]) -> str:
    return written(value) if math.isfinite(value) else "none"


def _note(report: SpreadReport, state: StateSpread, name: str) -> str:
    if name == "treble_loss" and math.isfinite(state.metrics[name].middle):
        return f"{_percent(state.over_limit)} over {report.question.limit:g} dB"
    none = state.metrics[name].none
    return f"none in {_percent(none)}" if 0 < none < 1 and name != "resonance_height" else ""


def _influences(shown: Sequence[tuple[str, StateSpread]], draws: int) -> Table:
    made = table(
        ["State and figure", "tolerance", "correlation", "alone, dB"], names=("State and figure",)
    )
    for names, state in shown:
        row(made, names, "", "", "")
        strong = [
            influence
            for influence in state.influences[:_SHOWN]
            if abs(influence.correlations["treble_loss"]) >= _LEAST_SHOWN
        ]
        for influence in strong:
            row(
                made,
                "  " + _named(influence),
                f"± {100 * influence.quantity.tolerance:.3g} %",
                signed(influence.correlations["treble_loss"], 2),
                f"{decibel(influence.low, 2)} to {decibel(influence.high, 2)}",
            )
        if not strong:
            few = draws < LEAST_ROWS
            row(made, "  too few boards to tell" if few else "  nothing: it stays the same")
    return made


def _explanation(report: SpreadReport) -> str:
    question = report.question
    how = "evenly" if not question.normal else "normally, the tolerance being two deviations"
    corners = "" if question.corners is None else _CORNERS.format(
        number=min(question.corners, len(report.quantities))
    )  # fmt: skip
    return _EXPLANATION.format(draws=f"{question.draws:,}", how=how, corners=corners)
