"""The spread of the losses as a document and as JSON."""

from __future__ import annotations

import math
from functools import partial
from typing import TYPE_CHECKING, Any, Final

from sigsim.decide.spread.influence import LEAST_ROWS, leading
from sigsim.metrics import LEVEL_SAID_DB, verdict
from sigsim.show import kinds
from sigsim.show.document import Column, Document, Group, Paragraph, Table
from sigsim.show.ends import at_end, ended, why_silent
from sigsim.show.kinds import BLANK, Kind
from sigsim.show.loss import asked, louder, what_is_on
from sigsim.show.render.json import finite, json_document
from sigsim.show.render.text import count, decibel, plain, signed
from sigsim.show.taken_as_exact import taken_as_exact

if TYPE_CHECKING:
    from sigsim.decide.spread.influence import Influence
    from sigsim.decide.spread.report import Quantiles, SpreadReport, StateSpread
    from sigsim.show.document import Row

    Titled = tuple[str, StateSpread]

TITLE: Final = "How sure is that?"

# How each metric is called in a table and in JSON, and how its numbers are written.
_METRICS: Final[dict[str, tuple[str, str, Kind]]] = {
    "treble_loss": ("treble loss, dB", "treble_loss_db", kinds.LOSS),
    "level": ("level at 100 Hz, dB", "level_db", Kind(partial(signed, digits=2))),
    "corner": ("corner, Hz", "corner_hz", kinds.SHORT_HERTZ),
    "resonance": ("resonance, Hz", "resonance_hz", kinds.SHORT_HERTZ),
    "resonance_height": ("its height, dB", "resonance_db", kinds.CHANGE),
}
# A number of any metric, with the kind it is of.
_NUMBER: Final = Kind(lambda cell: cell[0].text(cell[1]) if math.isfinite(cell[1]) else "none")
_INFLUENCES: Final = (
    Column("Combination and figure", kinds.PHRASE),
    Column("tolerance", kinds.TOLERANCE),
    Column("correlation", Kind(partial(signed, digits=2))),
    Column("alone, dB", Kind(lambda ends: " to ".join(decibel(end, 2) for end in ends))),
)

_EXPLANATION: Final = """\
Written: with every figure as the file has it. 5, 50, 95 %: so many of {draws} boards, drawn at \
random with every figure somewhere within its tolerance ({how}), stay under this. A kind of cable \
is drawn once for all its lengths, because it comes off one reel.
Correlation: from -1 to +1, how closely the treble loss follows this figure from board to board \
(Spearman's rank correlation). Alone: the loss if only this figure goes from the low to the high \
end of its tolerance."""

_CORNERS: Final = """
Least and most: the {number} figures that matter most for each number tried at their ends in every \
combination, all others at the ends that push the same way; no draw lies outside."""


def document(report: SpreadReport, *, explain: bool) -> Document:
    """Return the sentence, how the metrics spread, and which quantities matter.

    Parameters
    ----------
    report : from `spread_report`
    explain : whether the meaning of the columns is told
    """
    question, shown = report.question, _different(report)
    its = "its tolerance" if len(report.quantities) == 1 else "their tolerances"
    drawn = (
        f"{count(question.draws, 'board')} drawn, {count(len(report.quantities), 'figure')} "
        f"within {its} (seed {question.seed})."
    )
    hint = ("--explain says what the columns mean.",)
    return Document(
        TITLE,
        (
            Paragraph((sentence(report), drawn, *taken_as_exact(report))),
            _numbers(report, shown),
            _influences(shown, question.draws),
            Paragraph(_explanation(report) if explain else hint, quiet=True),
        ),
    )


def _different(report: SpreadReport) -> list[Titled]:
    """Return each different state once, under all its names, the worst marked as such."""
    by_state: dict[tuple[str, ...], tuple[list[str], StateSpread]] = {}
    for state in report.states:
        by_state.setdefault(state.state.on, ([], state))[0].append(plain(state.state.title, 40))
    if (worst := report.worst) is not None:
        names, _ = by_state.setdefault(worst.state.on, ([plain(worst.state.title, 40)], worst))
        names[-1] += " (worst)"
    return [(", ".join(names), state) for names, state in by_state.values()]


def sentence(report: SpreadReport) -> str:
    """Return the first sentence: what boards like this lose in the state to tell of first."""
    return at_end(report.question.board, _sentence(report))


def _sentence(report: SpreadReport) -> str:
    state = report.told
    loss = state.loss
    where = what_is_on(state.state.on)
    worst = "Worst with" if report.worst is state else "With"
    if not math.isfinite(loss.middle):
        why = why_silent(report.question.board, state.state.on)
        return ended(f"{worst} {where}: nothing comes out: {why}")
    words = dict.fromkeys((verdict(loss.low), verdict(loss.high)))
    part = {0.0: "none", 1.0: "all"}.get(state.over_limit, _percent(state.over_limit))
    text = (
        f"{worst} {where}: 9 of 10 such boards lose {decibel(loss.low)} to {decibel(loss.high)} "
        f"dB of treble ({' to '.join(words)}), half of them more than {decibel(loss.middle)} dB; "
        f"{part} lose more than {report.question.limit:g} dB{_level(state)}"
    )
    for first in leading(state.influences)[:1]:
        place = plain(first.quantity.place, 30)
        owner = f"the {place}" if place in ("instrument", "amp") else place
        text += f"; what matters most is the {_key(first)} of {owner}"
    return text + "."


def _level(state: StateSpread) -> str:
    """Say how the level changes and spreads, where that must be known beside a treble loss."""
    said, spread = louder(state.level_change), state.metrics["level"]
    if spread.high - spread.low >= LEVEL_SAID_DB:
        said += f"; their level lies between {signed(spread.low)} and {signed(spread.high)} dB"
    return said


def _key(influence: Influence) -> str:
    return influence.quantity.key.replace("_", " ")


def _percent(part: float) -> str:
    """Return a part in %, so that none and all are only said of none and all."""
    if part in (0.0, 1.0):
        return f"{100 * part:.0f} %"
    return f"{min(max(100 * part, 0.1), 99.9):.1f} %"


def _numbers(report: SpreadReport, shown: list[Titled]) -> Table:
    ends = ("least", "most") if report.question.corners is not None else ()
    headings = ("written", "5 %", "50 %", "95 %", *ends)
    numbers = [Column(heading, _NUMBER) for heading in headings]
    first = Column("Combination and number", kinds.PHRASE)
    columns = (first, *numbers, Column("", kinds.WORD, rank=9))
    rows: list[Row] = []
    for names, state in shown:
        rows.append(Group(names))
        for name, found in state.metrics.items():
            label, _, kind = _METRICS[name]
            values = [found.written, found.low, found.middle, found.high]
            if state.bounds is not None:
                values += [state.bounds[name].lowest, state.bounds[name].highest]
            rows.append((label, *((kind, value) for value in values), _note(report, state, name)))
    return Table("How the numbers of such boards spread", columns, rows, captioned=False)


def _note(report: SpreadReport, state: StateSpread, name: str) -> str:
    if name == "treble_loss" and math.isfinite(state.loss.middle):
        return f"{_percent(state.over_limit)} over {report.question.limit:g} dB"
    none = state.metrics[name].none
    return f"none in {_percent(none)}" if 0 < none < 1 and name != "resonance_height" else ""


def _influences(shown: list[Titled], draws: int) -> Table:
    none = "too few boards to tell" if draws < LEAST_ROWS else "nothing: it stays the same"
    rows: list[Row] = []
    for names, state in shown:
        rows.append(Group(names))
        rows += [
            (
                f"{plain(i.quantity.place, 30)}, {_key(i)}",
                i.quantity.tolerance,
                i.correlation,
                (i.low, i.high),
            )
            for i in leading(state.influences)
        ] or [(none, BLANK, BLANK, BLANK)]
    return Table("What matters for the treble loss, the most important first", _INFLUENCES, rows)


def _explanation(report: SpreadReport) -> tuple[str, ...]:
    question = report.question
    how = "evenly" if not question.normal else "normally, the tolerance being two deviations"
    text = _EXPLANATION.format(draws=f"{question.draws:,}", how=how)
    if question.corners is not None:
        text += _CORNERS.format(number=min(question.corners, len(report.quantities)))
    return tuple(text.splitlines())


def as_json(report: SpreadReport) -> str:
    """Return the report as one JSON document; plain numbers in SI units, null for none."""
    question = report.question
    values = {
        **asked(question.board, question.basis),
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
        "exact_quantities": [
            {"place": figure.place, "key": figure.key, "value": figure.value}
            for figure in report.exact
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
