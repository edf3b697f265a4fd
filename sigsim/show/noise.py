"""The noise report as words, tables and JSON."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

from sigsim.decide.noise import WORDS, Totals, dbv, verdict
from sigsim.metrics import AUDIBLE_HZ
from sigsim.show.render.json import finite, json_document
from sigsim.show.render.terminal import row, show, table
from sigsim.show.render.text import decibel, plain
from sigsim.units import render

if TYPE_CHECKING:
    from rich.table import Table

    from sigsim.decide.noise import NoiseReport, Share, StateNoise

# Contributions under this part of the power are added up as "the rest".
_LEAST_SHOWN: Final = 0.0005

_EXPLANATION: Final = """\
dBV: decibels over 1 V, 20 Hz to 20 kHz. Flat counts all of it alike, A weighs it as the ear does.
Under: how far the A-weighted noise lies below {level}, a nominal level at the same place: {words}.
Referred to the instrument: the noise that would have to be in the pickup to be as loud at the \
destination, frequency by frequency. It is what to compare boards by, because it does not change \
with a gain that lifts signal and noise alike.
Noisy are, at {temperature:g} K, all resistances and all losses (4kT·Re Z), and the stages by \
their input_noise_voltage and input_noise_current. What a player hears besides, hum and \
crackle and the noise of the amplifier itself, is not in it."""


def as_json(report: NoiseReport) -> str:
    """Return the report as one JSON document; plain numbers in SI units, null for none."""
    values = {
        "board": report.board.name,
        "level_v": report.level,
        "temperature_k": report.temperature,
        "band_hz": list(AUDIBLE_HZ),
        "states": [_state_values(report, state) for state in report.states],
    }
    return json_document(values)


def _state_values(report: NoiseReport, state: StateNoise) -> dict[str, Any]:
    return {
        "name": state.state.name,
        "on": list(state.state.on),
        "destination": _totals_document(report, state.destination),
        "instrument": _totals_document(report, state.instrument),
        "verdict": _word(report, state),
        "contributions": [
            {
                "kind": share.who.what,
                "name": share.who.name,
                "percent_flat": 100 * share.flat,
                "percent_a_weighted": 100 * share.a_weighted,
            }
            for share in state.shares
        ],
        "without_noise_figures": list(state.quiet),
        "one_noise_figure_missing": dict(state.incomplete),
    }


def _totals_document(report: NoiseReport, totals: Totals) -> dict[str, float | None]:
    return {
        "flat_v": finite(totals.flat),
        "flat_dbv": finite(dbv(totals.flat)),
        "flat_below_level_db": finite(report.below(totals.flat)),
        "a_weighted_v": finite(totals.a_weighted),
        "a_weighted_dbv": finite(dbv(totals.a_weighted)),
        "a_weighted_below_level_db": finite(report.below(totals.a_weighted)),
    }


def print_noise(report: NoiseReport, *, explain: bool) -> None:
    """Print the sentence, the totals, and who makes the noise."""
    show(_sentence(report), _quiet(report), "", _WHERE, _totals(report), _WHO, _shares(report))
    show(_explanation(report) if explain else "--explain says what the columns mean.")


_WHERE: Final = "dBV at the destination, and referred to the instrument (ref.)"
_WHO: Final = "Who makes it: parts of the noise power at the destination in %"


def _sentence(report: NoiseReport) -> str:
    state = report.noisiest
    noise = state.destination.a_weighted
    with_what = (
        f"with '{plain(state.state.title, 40)}'" if state.state.on else "with everything off"
    )
    destination = plain(report.board.destination.name, 30)
    if not noise > 0:
        return f"No noise at all reaches the {destination} {with_what}: is a volume knob at 0?"
    loudest = state.shares[0]
    silent = (
        ""
        if math.isfinite(state.instrument.flat)
        else ("No signal gets through, is a volume knob at 0? What is heard is noise alone. ")
    )
    return (
        f"{silent}Noisiest {with_what}: {decibel(dbv(noise))} dBV (A-weighted) reach the "
        f"{destination}, "
        f"{decibel(report.below(noise))} dB under {render(report.level, 'V')} "
        f"({_word(report, state)}); the largest part comes from {_named(loudest)} "
        f"({_percent(loudest.a_weighted)} %)."
    )


def _word(report: NoiseReport, state: StateNoise) -> str:
    return verdict(report.below(state.destination.a_weighted))


def _named(share: Share) -> str:
    kind, name = share.who
    if kind == "instrument":
        return "the " + name
    return name if kind == "cables" else f"'{plain(name, 30)}'"


def _quiet(report: NoiseReport) -> str:
    """Return which stages are taken to be quieter than they are."""
    quiet = list(dict.fromkeys(name for state in report.states for name in state.quiet))
    missing = {name: key for state in report.states for name, key in state.incomplete.items()}
    sentences = []
    if quiet:
        sentences.append(
            f"Without noise figures, so that only their resistances count: {_listed(quiet)}. Their "
            "input_noise_voltage and input_noise_current would make this complete."
        )
    for key in sorted(set(missing.values())):
        names = [name for name, its in missing.items() if its == key]
        sentences.append(f"Without {key}, which counts as nothing: {_listed(names)}.")
    return " ".join(sentences) or "Every stage in the signal's way has its noise figures."


def _listed(names: Sequence[str]) -> str:
    listed = ", ".join(f"'{plain(name, 30)}'" for name in names[:8])
    return listed + (f" and {len(names) - 8} more" if len(names) > 8 else "")


def _totals(report: NoiseReport) -> Table:
    made = table(
        ["State", "flat", "A", "under", "", "ref. flat", "ref. A", "ref. under"],
        names=("State",),
        words=("",),
    )
    for state in report.states:
        here, before = _cells(report, state.destination), _cells(report, state.instrument)
        row(made, plain(state.state.title, 40), *here, _word(report, state), *before)
    return made


def _cells(report: NoiseReport, totals: Totals) -> tuple[str, str, str]:
    return (
        decibel(dbv(totals.flat)),
        decibel(dbv(totals.a_weighted)),
        decibel(report.below(totals.a_weighted)),
    )


def _shares(report: NoiseReport) -> Table:
    made = table(["State and part", "flat", "A-weighted"], names=("State and part",))
    seen: set[tuple[str, ...]] = set()
    for state in report.states:
        if state.state.on in seen:
            continue
        seen.add(state.state.on)
        row(made, plain(state.state.title, 60), "", "")
        rest = Totals(0.0, 0.0)
        for share in state.shares:
            parts = Totals(share.flat, share.a_weighted)
            if max(parts) >= _LEAST_SHOWN:
                row(made, "  " + plain(share.who.name, 58), *map(_percent, parts))
            else:
                rest = Totals(*map(sum, zip(rest, parts, strict=True)))
        if max(rest) >= _LEAST_SHOWN:
            row(made, "  the rest", *map(_percent, rest))
    return made


def _percent(fraction: float) -> str:
    return f"{100 * fraction + 0.0:.1f}"


def _explanation(report: NoiseReport) -> str:
    words = [f"{word} under {limit:g} dB" for limit, word in WORDS[:-1]] + [WORDS[-1][1] + " over"]
    return _EXPLANATION.format(
        level=render(report.level, "V"), words=", ".join(words), temperature=report.temperature
    )
