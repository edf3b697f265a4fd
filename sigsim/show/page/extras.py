"""The sections of the page that are added when asked for: tolerances and noise."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from sigsim.decide.noise import dbv, verdict
from sigsim.show.page.blocks import Section, Table
from sigsim.show.page.data import numbers
from sigsim.show.render.text import count, decibel, plain, short_hertz, signed
from sigsim.units import render

if TYPE_CHECKING:
    from sigsim.decide.noise import NoiseReport, StateNoise
    from sigsim.decide.spread.report import Quantiles, SpreadReport, StateSpread

SPREAD_TITLE: Final = "How sure is that?"
_MOST: Final = 8
# Weaker correlations than this are chance.
_LEAST_CORRELATION: Final = 0.05


def spread_section(report: SpreadReport) -> Section:
    """Return what the tolerances make of the losses."""
    question = report.question
    rows = [
        (
            plain(state.state.title, 60),
            *_quantiles(state.metrics["treble_loss"]),
            f"{100 * state.over_limit:.0f} %",
            *(short_hertz(_or_none(q)) for q in _three(state.metrics["corner"])),
        )
        for state in report.states
    ]
    columns = (
        "State", "Loss 5 %", "50 %", "95 %", f"Over {question.limit:g} dB", "Corner 5 %", "50 %",
        "95 %",
    )  # fmt: skip
    tables = [Table("Treble loss (dB) and corner (Hz) of boards with parts as they are sold",
                    columns, tuple(range(1, 8)), rows)]  # fmt: skip
    if report.states and (matters := _matters(report.states[-1])):
        tables.append(
            Table("What matters most for the worst state", ("Figure", "Correlation"), (1,), matters)
        )
    text = [
        f"{question.draws:,} boards drawn at random, {count(len(report.quantities), 'figure')} "
        f"anywhere within their tolerances (seed {question.seed}). So many of them stay under each "
        "number. The band in the chart above holds 9 of 10."
    ]
    return Section("spread", SPREAD_TITLE, text, tables)


def _three(found: Quantiles) -> tuple[float, float, float]:
    return found.low, found.middle, found.high


def _quantiles(found: Quantiles) -> tuple[str, ...]:
    return tuple(decibel(value) for value in _three(found))


def _or_none(value: float) -> float | None:
    return value if value == value else None


def _matters(state: StateSpread) -> list[tuple[str, str]]:
    found = [
        (i.quantity, i.correlations["treble_loss"])
        for i in state.influences[:_MOST]
        if abs(i.correlations["treble_loss"]) >= _LEAST_CORRELATION
    ]
    return [
        (f"{plain(quantity.place, 60)}, {quantity.key}", signed(correlation, 2))
        for quantity, correlation in found
    ]


def bands(report: SpreadReport) -> list[dict[str, Any]]:
    """Return the band of every state's curves as the page draws it."""
    switches = {name: i for i, name in enumerate(report.question.board.switches())}
    made = []
    for number, state in enumerate(report.states):
        curves = state.curves
        if curves is not None:
            made.append({
                "state": number,
                "on": [switches[name] for name in state.state.on],
                "frequency": [round(f, 3) for f in curves.frequency.tolist()],
                "low": numbers(curves.low),
                "high": numbers(curves.high),
            })  # fmt: skip
    return made


def noise_section(report: NoiseReport) -> Section:
    """Return how much the board hisses, and who makes it."""
    rows = [
        (
            plain(state.state.title, 60),
            decibel(dbv(state.destination.flat)),
            decibel(dbv(state.destination.a_weighted)),
            decibel(report.below(state.destination.a_weighted)),
            verdict(report.below(state.destination.a_weighted)),
            _largest(state),
        )
        for state in report.states
    ]
    level = render(report.level, "V")
    columns = ("State", "dBV flat", "dBV (A)", f"dB under {level}", "In a word", "Largest part")
    made = Table("Noise at the destination, 20 Hz to 20 kHz", columns, (1, 2, 3), rows)
    text = [f"Noise of all resistances at {report.temperature:g} K and of every stage with noise "
            f"figures. Under: how far the A-weighted noise lies below {level}."]  # fmt: skip
    quiet = dict.fromkeys(name for state in report.states for name in state.quiet)
    listed = ", ".join(f"'{plain(name, 30)}'" for name in list(quiet)[:_MOST])
    after = [f"Without noise figures of their own: {listed}."] if quiet else []
    return Section("noise", "How much does it hiss?", text, [made], (), after)


def _largest(state: StateNoise) -> str:
    if not state.shares:
        return "-"
    share = state.shares[0]
    return f"{plain(share.who.name, 40)}, {100 * share.a_weighted:.0f} %"
